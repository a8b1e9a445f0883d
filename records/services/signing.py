"""Signing a run and sealing its record. What is signed is shown in full; what is sealed never changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotAllowed, Reason
from fleet.models import Aircraft, Authorisation, Certificate, User
from fleet.selectors.meters import counters_at
from fleet.selectors.people import valid_authorisations, valid_certificate
from fleet.services.trail import note
from records.gather.entry import entry_facts, run_payload
from records.judge.terms import Outcome
from records.models import BenchRun, RunState, Signature, SignedRecord
from records.seal.canonical import exact_form
from records.seal.digest import FIRST_PREVIOUS, digest_of, seal
from records.seal.entry import missing_from
from records.services.provisions import run_day
from records.services.run_access import lock_run
from scheduling.services.accomplishment import Completion
from scheduling.services.tasks import complete_task, must_not_wait, return_task

Meaning = Signature.Meaning
ACT_OF = {Meaning.PERFORMED: Authorisation.Act.PERFORM, Meaning.INSPECTED: Authorisation.Act.INSPECT}
VERB_OF = {Meaning.PERFORMED: Verb.SIGN, Meaning.INSPECTED: Verb.INSPECT}


@dataclass(frozen=True, slots=True)
class Signing:
    """Somebody signs what they were shown. `proof` is how they proved who they are just now."""

    run_id: int
    meaning: str
    content_digest: str
    proof: str


@dataclass(frozen=True, slots=True)
class Content:
    """What is signed, in full, with its digest."""

    payload: Mapping[str, Any]
    digest: str


def content_to_sign(run: BenchRun) -> Content:
    """Everything the signature binds: work, readings, limits, verdicts, equipment, fluid, photographs."""
    payload = run_payload(run)
    return Content(payload, digest_of(exact_form(payload)))


@transaction.atomic
def sign(*, actor: Actor, signing: Signing) -> tuple[Signature, SignedRecord | None]:
    """Sign a finished run; when the last signature it needs is there, seal the record and settle the task.

    Refuses: not finished, changed since it was shown (`content_changed`), no valid certificate or authorisation
    in scope, calibration lapsed, order broken, the doer inspecting their own work, an incomplete entry.
    """
    meaning = _meaning(signing)
    require(actor, VERB_OF[meaning])
    run = lock_run(actor, signing.run_id)
    _must_be_signable(run, meaning, actor)
    content = content_to_sign(run)
    if content.digest != signing.content_digest:
        raise Conflict("content_changed", "The run changed after it was shown to you. Read it again, then sign.")
    signer = User.objects.get(pk=actor.user_id)
    certificate, authorisation = _entitled(run, signer, meaning)
    signature = Signature.objects.create(
        run=run,
        user=signer,
        name=signer.full_name,
        meaning=meaning,
        certificate_kind=certificate.kind,
        certificate_number=certificate.number,
        authorisation=authorisation.reference,
        proof=signing.proof,
        content_digest=content.digest,
        signed_at=now(),
    )
    note(actor, "sign_run", "run", run.pk, f"{run.task.title}, run {run.number}: {signature}")
    record = _seal_if_complete(actor, run, content)
    return signature, record


def _meaning(signing: Signing) -> Signature.Meaning:
    try:
        return Meaning(signing.meaning)
    except ValueError as error:
        known = ", ".join(Meaning.values)
        raise _wrong("meaning", signing.meaning, "is no meaning of a signature", f"use one of: {known}") from error


def _must_be_signable(run: BenchRun, meaning: Signature.Meaning, actor: Actor) -> None:
    if run.state != RunState.FINISHED:
        raise Conflict("run_not_finished", f"This run is {run.get_state_display()}: only a finished run is signed.")
    if run.signatures.filter(meaning=meaning).exists():
        raise Conflict("signed_already", f"This run is signed already as {meaning.label}.")
    if run.verdict == Outcome.PASS:
        must_not_wait(run.task)
    if meaning == Meaning.PERFORMED:
        if run.performer_id != actor.user_id:
            raise NotAllowed("not_your_run", f"{run.performer.full_name} did this work and signs for it.")
        return
    if not run.procedure_version.needs_countersignature:
        raise Conflict("no_inspection_asked", "This procedure asks for no independent inspection.")
    if not run.signatures.filter(meaning=Meaning.PERFORMED).exists():
        raise Conflict("performer_first", "Whoever did the work signs first.")
    if actor.user_id in workers_of(run):
        raise NotAllowed(
            "own_work", "You did some of this work: the inspection is for somebody else (14 CFR 135.429(c))."
        )


def workers_of(run: BenchRun) -> set[int]:
    """Everybody who had a hand in the run."""
    return {run.performer_id, run.opened_by_id, *run.answers.values_list("by_id", flat=True)}


def _entitled(run: BenchRun, signer: User, meaning: Signature.Meaning) -> tuple[Certificate, Authorisation]:
    """The certificate and authorisation the signature rests on, both valid today and when the work was done."""
    today = run_day(run)
    certificate = valid_certificate(signer.pk, today)
    if certificate is None:
        raise NotAllowed("no_certificate", f"{signer.full_name} has no certificate valid on {today:%d %b %Y}.")
    authorisation = _authorisation(run, signer, meaning, today)
    if authorisation is None:
        act = ACT_OF[meaning].label
        chapter = run.procedure_version.ata[:2]
        raise NotAllowed(
            "no_authorisation",
            f"{signer.full_name} has no authorisation valid on {today:%d %b %Y} to {act} in chapter {chapter} "
            f"on the {run.aircraft.aircraft_type}. The director grants it.",
        )
    for use in run.equipment_uses.select_related("equipment"):
        if use.calibration_due is not None and use.calibration_due < today:
            raise Conflict("calibration_lapsed", f"{use.equipment}: calibration lapsed on {use.calibration_due}.")
    return certificate, authorisation


def _authorisation(
    run: BenchRun, signer: User, meaning: Signature.Meaning, day: date
) -> Authorisation | None:
    chapter = run.procedure_version.ata[:2]
    for row in valid_authorisations(signer.pk, run.operator_id, ACT_OF[meaning], day):
        in_chapter = not row.ata_chapters or chapter in row.ata_chapters
        on_type = row.aircraft_type_id in (None, run.aircraft.aircraft_type_id)
        still_holds = row.valid_to >= now().date() and (row.revoked_on is None or row.revoked_on > now().date())
        if in_chapter and on_type and still_holds:
            return row
    return None


def _seal_if_complete(actor: Actor, run: BenchRun, content: Content) -> SignedRecord | None:
    signed = set(run.signatures.values_list("meaning", flat=True))
    if run.procedure_version.needs_countersignature and Meaning.INSPECTED not in signed:
        return None
    facts = entry_facts(run)
    missing = missing_from(facts)
    if missing:
        raise Invalid("entry_incomplete", "The entry is not complete yet.", *missing)
    record = _seal_run(run, content)
    note(actor, "seal_record", "record", record.number, f"{record.title}: record {record.number} sealed")
    _settle_task(actor, run, record)
    return record


def _seal_run(run: BenchRun, content: Content) -> SignedRecord:
    signatures = [
        {
            "name": row.name,
            "meaning": row.get_meaning_display(),
            "certificate_kind": row.certificate_kind,
            "certificate_number": row.certificate_number,
            "authorisation": row.authorisation,
            "proof": row.proof,
            "content_digest": row.content_digest,
            "signed_at": row.signed_at.isoformat().replace("+00:00", "Z"),
        }
        for row in run.signatures.order_by("signed_at", "id")
    ]
    kind = SignedRecord.Kind.INSPECTION if run.procedure_version.is_inspection else SignedRecord.Kind.WORK
    record = append_record(
        run.aircraft,
        {**content.payload, "signatures": signatures},
        SignedRecord(kind=kind, run=run, title=run.task.title, verdict=run.verdict, completed_on=run_day(run)),
    )
    run.state = RunState.SIGNED
    run.version += 1
    run.save()
    return record


def append_record(aircraft: Aircraft, payload: Mapping[str, Any], record: SignedRecord) -> SignedRecord:
    """Put one record at the end of the aircraft's chain; its number and sequence are part of what is sealed."""
    Aircraft.objects.select_for_update(of=("self",)).get(pk=aircraft.pk)
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
        "sealed_at": record.sealed_at.isoformat().replace("+00:00", "Z"),
    }
    sealed = seal(whole, record.previous_digest)
    record.canonical = sealed.canonical.decode()
    record.digest = sealed.digest
    record.save(force_insert=True)
    return record


def _settle_task(actor: Actor, run: BenchRun, record: SignedRecord) -> None:
    """Only PASS passes: anything else is sealed as it is, and the task stands open again."""
    if run.verdict != Outcome.PASS:
        words = f"record {record.number} says {run.verdict.upper().replace('_', ' ')}: {_reason(run)}"
        return_task(actor=actor, task_id=run.task_id, words=words)
        return
    completion = Completion(
        task_id=run.task_id,
        at=run.finished_at or now(),
        counters=counters_at(run.aircraft_id, run.finished_at or now()),
        proof=record.number,
    )
    complete_task(actor=actor, completion=completion)


def _reason(run: BenchRun) -> str:
    return str(run.verdict_detail.get("reason", ""))[:250]


def _wrong(field: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field, value, remedy)
    return Invalid("bad_signature", reason.sentence(), reason)
