"""Reads about sealed records: the list, one record in full, what amends it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet

from fleet.common.actor import Actor
from fleet.common.errors import Conflict, NotFound
from records.models import SignedRecord
from records.seal.canonical import NotSealable, read_form
from records.seal.digest import digest_of


@dataclass(frozen=True, slots=True)
class RecordQuery:
    """Which records are wanted; empty means all. `since` and `until` are days of completion, both included."""

    aircraft: str = ""
    procedure: str = ""
    verdict: str = ""
    kind: str = ""
    search: str = ""
    since: date | None = None
    until: date | None = None


ALL = RecordQuery()


def records(actor: Actor, query: RecordQuery = ALL) -> QuerySet[SignedRecord]:
    """The operator's records, newest first; the sealed text itself is not fetched."""
    rows = SignedRecord.objects.filter(operator_id=actor.operator_id).filter(_wanted(query))
    return (
        rows.select_related("aircraft", "run__performer", "run__procedure_version__procedure", "amends")
        .prefetch_related("amendments", "run__signatures")
        .defer("canonical", "run__content", "run__verdict_detail", "run__procedure_version__content")
        .order_by("-id")
    )


def _wanted(query: RecordQuery) -> Q:
    wanted = Q()
    if query.aircraft:
        wanted &= Q(aircraft__registration__iexact=query.aircraft)
    if query.procedure:
        wanted &= Q(run__procedure_version__procedure__code=query.procedure)
    if query.verdict:
        wanted &= Q(verdict=query.verdict)
    if query.kind:
        wanted &= Q(kind=query.kind)
    if query.search:
        wanted &= Q(number__icontains=query.search) | Q(title__icontains=query.search)
    if query.since:
        wanted &= Q(completed_on__gte=query.since)
    if query.until:
        wanted &= Q(completed_on__lte=query.until)
    return wanted


def record_for(actor: Actor, number: str) -> SignedRecord:
    """One record by its number, whatever its case; a stranger's is not found."""
    record = (
        SignedRecord.objects.filter(operator_id=actor.operator_id, number__iexact=number)
        .select_related(
            "operator",
            "aircraft__base",
            "aircraft__aircraft_type",
            "amends",
            "run__task",
            "run__procedure_version__procedure",
        )
        .prefetch_related("amendments", "run__signatures", "run__photos")
        .first()
    )
    if record is None:
        raise NotFound("record_not_found", f"There is no record {number} here.")
    return record


def payload_of(record: SignedRecord) -> Mapping[str, Any]:
    """What the sealed text says. Refuses (`record_broken`) a text that can no longer be read."""
    try:
        return read_form(record.canonical.encode())
    except NotSealable as trouble:
        words = f"{record.number} cannot be read: its sealed text was changed. Have the records verified."
        raise Conflict("record_broken", words) from trouble


def is_whole(record: SignedRecord) -> bool:
    """Whether the text still gives the digest it was sealed with."""
    return digest_of(record.canonical.encode()) == record.digest


def root_of(record: SignedRecord) -> SignedRecord:
    """The record of work that a chain of amendments began with."""
    while record.amends is not None:
        record = record.amends
    return record
