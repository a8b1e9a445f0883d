"""Putting a record at the end of its aircraft's chain. What is sealed never changes: the database refuses."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fleet.common.clock import now
from fleet.models import Aircraft
from records.gather.entry import moment
from records.models import Signature, SignedRecord
from records.seal.digest import FIRST_PREVIOUS, seal
from records.services.run_access import lock_aircraft


def signature_data(row: Signature) -> dict[str, str]:
    """A signature as it stands in the sealed record."""
    return {
        "name": row.name,
        "meaning": row.get_meaning_display(),
        "certificate_kind": row.certificate_kind,
        "certificate_number": row.certificate_number,
        "authorisation": row.authorisation,
        "proof": row.proof,
        "content_digest": row.content_digest,
        "signed_at": moment(row.signed_at),
    }


def append_record(aircraft: Aircraft, payload: Mapping[str, Any], record: SignedRecord) -> SignedRecord:
    """Put one record at the end of the aircraft's chain; its number and sequence are part of what is sealed."""
    lock_aircraft(aircraft.pk)
    last = SignedRecord.objects.filter(aircraft=aircraft).order_by("-sequence").first()
    record.sequence = (last.sequence if last else 0) + 1
    record.number = f"{aircraft.registration}-{record.sequence:06d}"
    record.operator_id = aircraft.operator_id
    record.aircraft = aircraft
    record.previous_digest = last.digest if last else FIRST_PREVIOUS
    record.sealed_at = now()
    whole = {
        **payload,
        "record": record.number,
        "sequence": record.sequence,
        "kind": record.kind,
        "sealed_at": moment(record.sealed_at),
    }
    sealed = seal(whole, record.previous_digest)
    record.canonical = sealed.canonical.decode()
    record.digest = sealed.digest
    record.save(force_insert=True)
    return record
