"""Amending a sealed record: a new record that names the old one, with its own reason and signature."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day, now
from fleet.common.errors import Conflict, Invalid, Reason
from fleet.models import Authorisation, User
from fleet.services.trail import note
from records.gather.entry import SAFETY, SCHEMA, moment
from records.models import Signature, SignedRecord
from records.seal.canonical import exact_form
from records.seal.digest import digest_of
from records.selectors.runs import SignedContent
from records.selectors.signed import payload_of, record_for, root_of
from records.services.entitlement import authorisation_on, certificate_on, scope_of
from records.services.run_access import person_of
from records.services.sealing import append_record

ACTS = (Authorisation.Act.PERFORM, Authorisation.Act.INSPECT, Authorisation.Act.RELEASE)
LONGEST = 2000
MEANING = "amended the record as stated"


@dataclass(frozen=True, slots=True)
class Draft:
    """What somebody wants to put right: which record, why, and what it should say."""

    number: str
    reason: str
    text: str


@dataclass(frozen=True, slots=True)
class Amendment:
    """A draft to be sealed. `content_digest` is of what was shown, `proof` how the signer proved who they are."""

    draft: Draft
    content_digest: str
    proof: str


def amendment_content(actor: Actor, draft: Draft) -> SignedContent:
    """What the signature of an amendment will bind. Refuses an empty reason or text."""
    require(actor, Verb.AMEND)
    old = record_for(actor, draft.number)
    return _content(old, draft)


def _content(old: SignedRecord, draft: Draft) -> SignedContent:
    _check("reason", draft.reason, "say why the record is amended")
    _check("text", draft.text, "say what the record should read")
    sealed = payload_of(old)
    payload: dict[str, Any] = {
        "schema": SCHEMA,
        "aircraft": {name: sealed["aircraft"][name] for name in ("registration", "type", "serial_number")},
        "title": f"Amendment of {old.number}: {root_of(old).title}"[:160],
        "amends": {"record": old.number, "digest": old.digest},
        "completed_on": local_day(old.aircraft.base.zone).isoformat(),
        "reason": draft.reason.strip(),
        "text": draft.text.strip(),
        "notice": SAFETY,
    }
    return SignedContent(payload, digest_of(exact_form(payload)))


def _check(field: str, text: str, remedy: str) -> None:
    detail = "is missing" if not text.strip() else "is too long" if len(text) > LONGEST else ""
    if detail:
        reason = Reason(detail, field, "" if not text.strip() else text[:40] + "…", remedy)
        raise Invalid("bad_amendment", reason.sentence(), reason)


@transaction.atomic
def amend_record(*, actor: Actor, amendment: Amendment) -> SignedRecord:
    """Seal an amendment at the end of the aircraft's chain; the amended record stays as it is, and readable.

    An amendment changes what is said, not what was decided: verdict, task and due stay, whatever it says. Refuses
    one without a valid certificate and authorisation in scope, and content other than shown (`content_changed`).
    """
    require(actor, Verb.AMEND)
    old = record_for(actor, amendment.draft.number)
    content = _content(old, amendment.draft)
    if content.digest != amendment.content_digest:
        raise Conflict("content_changed", "This is not what was shown to you. Read it again, then sign.")
    signature = _signature(actor, old, content, amendment.proof)
    record = append_record(
        old.aircraft,
        {**content.payload, "signatures": [signature]},
        SignedRecord(
            kind=SignedRecord.Kind.AMENDMENT,
            amends=old,
            title=content.payload["title"],
            completed_on=date.fromisoformat(content.payload["completed_on"]),
        ),
    )
    words = f"{record.number} amends {old.number}: {amendment.draft.reason.strip()}"
    detail = {"aircraft_id": record.aircraft_id, "digest": record.digest, "sequence": record.sequence}
    note(actor, "seal_record", "record", record.number, words, detail)
    return record


def _signature(actor: Actor, old: SignedRecord, content: SignedContent, proof: str) -> dict[str, str]:
    root = root_of(old)
    if root.run is None:
        raise Conflict("nothing_to_amend", f"{old.number} goes back to no work that could be amended.")
    signer = User.objects.get(pk=person_of(actor))
    today = {local_day(old.aircraft.base.zone)}
    certificate = certificate_on(signer, today)
    authorisation = authorisation_on(signer, scope_of(root.run), ACTS, today)
    return {
        "name": signer.full_name,
        "meaning": MEANING,
        "certificate_kind": certificate.kind,
        "certificate_number": certificate.number,
        "authorisation": authorisation.reference,
        "proof": Signature.Proof(proof).value,
        "content_digest": content.digest,
        "signed_at": moment(now()),
    }
