"""Are the sealed records whole? Every chain, signature, photograph and proof, with what is broken in words."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from fleet.common.wording import day as day_words
from fleet.models import Aircraft, TrailEntry
from records.models import SignedRecord
from records.seal.canonical import NotSealable, exact_form, read_form
from records.seal.chain import ChainEntry, verify_chain
from records.seal.digest import digest_of
from scheduling.models import Applicability, Task

BESIDE_CONTENT = ("record", "sequence", "kind", "sealed_at", "signatures", "previous")
PASSED = "pass"


@dataclass(frozen=True, slots=True)
class Flaw:
    """One thing that is wrong: which record (or task, or due item), what kind, and words."""

    subject: str
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class Verification:
    """The outcome for one aircraft: how many records, the digest of the last, and everything wrong."""

    registration: str
    records: int
    head: str
    flaws: tuple[Flaw, ...]

    @property
    def is_whole(self) -> bool:
        """Whether nothing is wrong."""
        return not self.flaws

    @property
    def words(self) -> str:
        """One line: "QX-SKA: 12 records, whole, last 3f9a…"."""
        if not self.records:
            state = "no records"
        elif self.is_whole:
            state = f"{self.records} records, whole, last {self.head[:12]}…"
        else:
            state = f"{self.records} records, {len(self.flaws)} things wrong"
        return f"{self.registration}: {state}"


def verify_aircraft(aircraft: Aircraft) -> Verification:
    """Check one aircraft's chain and everything that rests on it."""
    rows = list(_rows(aircraft))
    report = verify_chain(
        ChainEntry(row.sequence, row.canonical.encode(), row.previous_digest, row.digest) for row in rows
    )
    flaws = [Flaw(rows[flaw.index].number, flaw.kind.value, flaw.words) for flaw in report.broken]
    for row in rows:
        flaws.extend(_record_flaws(row))
    flaws.extend(_vanished(aircraft, rows))
    flaws.extend(_proof_flaws(aircraft, rows))
    return Verification(aircraft.registration, len(rows), report.head, tuple(flaws))


def _rows(aircraft: Aircraft) -> QuerySet[SignedRecord]:
    return (
        SignedRecord.objects.filter(aircraft=aircraft)
        .select_related("run__task", "amends")
        .prefetch_related("run__signatures", "run__photos")
        .defer("run__content", "run__verdict_detail")
        .order_by("sequence", "id")
    )


def _record_flaws(row: SignedRecord) -> Iterator[Flaw]:
    """What one record says against what stands beside it; an unreadable one was named by the chain already."""
    try:
        payload = read_form(row.canonical.encode())
    except NotSealable:
        return
    yield from _column_flaws(row, payload)
    yield from _signature_flaws(row, payload)
    yield from _photo_flaws(row, payload)
    if row.amends is not None and payload.get("amends", {}).get("digest") != row.amends.digest:
        yield Flaw(row.number, "amendment", f"amends {row.amends.number}, which now has another digest")


def _column_flaws(row: SignedRecord, payload: Mapping[str, Any]) -> Iterator[Flaw]:
    beside = {
        "record": row.number,
        "sequence": row.sequence,
        "kind": row.kind,
        "verdict": row.verdict,
        "completed_on": row.completed_on.isoformat(),
    }
    for name, value in beside.items():
        if payload.get(name, "") != value:
            words = f"{name.replace('_', ' ')} reads {value} beside the seal, {payload.get(name)} inside it"
            yield Flaw(row.number, "column", words)


def signed_content(payload: Mapping[str, Any]) -> dict[str, Any]:
    """The part of a sealed record that its signatures bind."""
    return {name: value for name, value in payload.items() if name not in BESIDE_CONTENT}


def _signature_flaws(row: SignedRecord, payload: Mapping[str, Any]) -> Iterator[Flaw]:
    signatures = payload.get("signatures", [])
    if not signatures:
        yield Flaw(row.number, "signature", "carries no signature")
    digest = digest_of(exact_form(signed_content(payload)))
    for signature in signatures:
        if signature["content_digest"] != digest:
            words = f"{signature['name']} signed other content ({signature['content_digest'][:12]}…)"
            yield Flaw(row.number, "signature", words)
    if row.run is None:
        return
    stored = {(each.name, each.content_digest) for each in row.run.signatures.all()}
    sealed = {(each["name"], each["content_digest"]) for each in signatures}
    for name, _ in sorted(sealed ^ stored):
        yield Flaw(row.number, "signature", f"the signature of {name} differs from the one kept")


def _photo_flaws(row: SignedRecord, payload: Mapping[str, Any]) -> Iterator[Flaw]:
    photos = {photo.sha256: photo for photo in row.run.photos.all()} if row.run is not None else {}
    for sealed in payload.get("photos", []):
        photo = photos.get(sealed["sha256"])
        if photo is None:
            yield Flaw(row.number, "photo", f"a photo at {sealed['step']} is no longer kept")
            continue
        try:
            with photo.file.open("rb") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError:
            yield Flaw(row.number, "photo", f"the file of the photo at {sealed['step']} is missing")
            continue
        if found != sealed["sha256"]:
            yield Flaw(row.number, "photo", f"the photo at {sealed['step']} was changed")


def _vanished(aircraft: Aircraft, rows: Iterable[SignedRecord]) -> Iterator[Flaw]:
    """A chain cut off at its end looks whole from inside; the trail, append-only too, knows what was sealed."""
    kept = {row.number: row.digest for row in rows}
    lines = TrailEntry.objects.filter(
        operator_id=aircraft.operator_id,
        action="seal_record",
        subject="record",
        detail__aircraft_id=aircraft.pk,
    )
    for line in lines.order_by("id"):
        if line.subject_id not in kept:
            yield Flaw(line.subject_id, "missing", f"was sealed on {day_words(line.at)} and is gone")
        elif line.detail.get("digest") != kept[line.subject_id]:
            yield Flaw(line.subject_id, "replaced", "has another digest than the one sealed")


def _proof_flaws(aircraft: Aircraft, rows: Iterable[SignedRecord]) -> Iterator[Flaw]:
    """Closed tasks and last-dones quote a record: it must be there and say PASS."""
    verdicts = {row.number: row.verdict for row in rows}
    closed = Task.objects.filter(aircraft=aircraft, state="closed").order_by("id")
    for task in closed:
        yield from _quoted(f"task {task.pk}", f"{task.title} was closed", task.proof, verdicts)
    done = Applicability.objects.filter(aircraft=aircraft).exclude(proof="").order_by("id")
    for item in done:
        yield from _quoted(f"due item {item.code}", "its last-done rests", item.proof, verdicts)
    proofs = set(closed.values_list("proof", flat=True))
    for row in rows:
        if row.run is not None and row.verdict == PASSED and row.number not in proofs:
            yield Flaw(row.number, "proof", f"says PASS, but {row.run.task.title} was not closed by it")


def _quoted(subject: str, what: str, proof: str, verdicts: Mapping[str, str]) -> Iterator[Flaw]:
    if proof not in verdicts:
        yield Flaw(subject, "proof", f"{what} on {proof or 'nothing'}, which is no record of this aircraft")
    elif verdicts[proof] != PASSED:
        yield Flaw(subject, "proof", f"{what} on {proof}, which says {verdicts[proof].upper()}")
