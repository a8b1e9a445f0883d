"""One sealed record checked by itself and against its neighbours, while somebody looks at it."""

from __future__ import annotations

from dataclasses import dataclass

from records.models import SignedRecord
from records.seal.canonical import NotSealable, exact_form, read_form
from records.seal.digest import FIRST_PREVIOUS, digest_of, is_digest
from records.selectors.verification import signed_content


@dataclass(frozen=True, slots=True)
class RecordCheck:
    """Everything that is wrong with one record, in words; nothing where it is what was sealed."""

    flaws: tuple[str, ...]

    @property
    def is_whole(self) -> bool:
        """Whether nothing is wrong."""
        return not self.flaws


def neighbours_of(record: SignedRecord) -> tuple[SignedRecord | None, SignedRecord | None]:
    """The records before and after it in its aircraft's chain."""
    chain = SignedRecord.objects.filter(aircraft_id=record.aircraft_id).defer("canonical")
    before = chain.filter(sequence__lt=record.sequence).order_by("-sequence").first()
    after = chain.filter(sequence__gt=record.sequence).order_by("sequence").first()
    return before, after


def check_of(record: SignedRecord, before: SignedRecord | None, after: SignedRecord | None) -> RecordCheck:
    """Is its text what was sealed, does it follow the record before, and does the one after follow it?"""
    flaws = []
    if digest_of(record.canonical.encode()) != record.digest:
        flaws.append("its text gives another digest: it was edited after it was sealed")
    expected = before.digest if before else FIRST_PREVIOUS
    if record.previous_digest != expected:
        flaws.append("it does not follow the record before it")
    if after is not None and after.previous_digest != record.digest:
        flaws.append("the record after it does not follow it")
    flaws.extend(_signature_flaws(record))
    return RecordCheck(tuple(flaws))


def _signature_flaws(record: SignedRecord) -> list[str]:
    try:
        payload = read_form(record.canonical.encode())
    except NotSealable:
        return ["its text cannot be read"]
    digest = digest_of(exact_form(signed_content(payload)))
    return [
        f"{signature['name']} signed other content"
        for signature in payload.get("signatures", [])
        if signature["content_digest"] != digest
    ]


def record_by_digest(digest: str) -> SignedRecord | None:
    """The record of a digest, whoever's it is; None for what is no digest."""
    if not is_digest(digest):
        return None
    return SignedRecord.objects.filter(digest=digest).select_related("aircraft__base", "operator").first()
