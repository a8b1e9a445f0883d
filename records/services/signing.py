"""Signing a run and sealing its record. What is signed is shown in full; what is sealed never changes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day, now
from fleet.common.errors import Conflict, Invalid, NotAllowed, wrong
from fleet.models import Authorisation, Certificate, User
from fleet.selectors.meters import counters_at
from fleet.services.trail import note
from records.gather.entry import entry_facts
from records.judge.terms import Outcome
from records.models import BenchRun, RunState, Signature, SignedRecord
from records.seal.entry import missing_from
from records.selectors.runs import SignedContent, content_of_run
from records.services.entitlement import authorisation_on, certificate_on, scope_of
from records.services.run_access import completed_day, lock_run, person_of
from records.services.sealing import append_record, signature_data
from records.services.trends import refresh_trends_of
from scheduling.services.accomplishment import Completion
from scheduling.services.tasks import complete_task, must_not_wait, return_task

_wrong = partial(wrong, code="bad_signature")

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


@transaction.atomic
def sign(*, actor: Actor, signing: Signing) -> tuple[Signature, SignedRecord | None]:
    """Sign a finished run; when the last signature it needs is there, seal the record and settle the task.

    Refuses: not finished, changed since it was shown (`content_changed`), no valid certificate or authorisation
    in scope, order broken or overtaken, the doer inspecting their own work, an incomplete entry.
    """
    meaning = _meaning(signing)
    require(actor, VERB_OF[meaning])
    run = lock_run(actor, signing.run_id)
    _must_be_signable(run, meaning, actor)
    content = content_of_run(run)
    if content.digest != signing.content_digest:
        raise Conflict("content_changed", "This is not what was shown to you. Read it again, then sign.")
    signer = User.objects.get(pk=person_of(actor))
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
        raise _wrong(
            "meaning", signing.meaning, "is no meaning of a signature", f"use one of: {known}"
        ) from error


def _must_be_signable(run: BenchRun, meaning: Signature.Meaning, actor: Actor) -> None:
    if run.state != RunState.FINISHED:
        raise Conflict(
            "run_not_finished", f"This run is {run.get_state_display()}: only a finished run is signed."
        )
    if run.signatures.filter(meaning=meaning).exists():
        raise Conflict("signed_already", f"This run is signed already as {meaning.label}.")
    if run.verdict == Outcome.PASS:
        must_not_wait(run.task)
        _must_not_be_overtaken(run)
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


def _must_not_be_overtaken(run: BenchRun) -> None:
    """A pass counts only if everything it had to wait for was done before the run began."""
    later = run.task.waits.filter(first__closed_at__gt=run.started_at).select_related("first").first()
    if later is not None:
        raise Conflict(
            "overtaken",
            f"{later.first.title} was done after this run began: the run proves nothing any more. "
            "Abandon it with that reason and do the work again.",
        )


def workers_of(run: BenchRun) -> set[int]:
    """Everybody who had a hand in the run."""
    handed = run.hand_overs.values_list("from_user_id", flat=True)
    return {run.performer_id, run.opened_by_id, *run.answers.values_list("by_id", flat=True), *handed}


def _entitled(run: BenchRun, signer: User, meaning: Signature.Meaning) -> tuple[Certificate, Authorisation]:
    """What the signature rests on: valid today, and for whoever did the work on the day it was completed too."""
    today = local_day(run.aircraft.base.zone)
    days = {today, completed_day(run)} if meaning == Meaning.PERFORMED else {today}
    return certificate_on(signer, days), authorisation_on(signer, scope_of(run), [ACT_OF[meaning]], days)


def _seal_if_complete(actor: Actor, run: BenchRun, content: SignedContent) -> SignedRecord | None:
    signed = set(run.signatures.values_list("meaning", flat=True))
    if run.procedure_version.needs_countersignature and Meaning.INSPECTED not in signed:
        return None
    _must_bind_the_same(run, content)
    facts = entry_facts(run)
    missing = missing_from(facts)
    if missing:
        raise Invalid("entry_incomplete", "The entry is not complete yet.", *missing)
    record = _seal_run(run, content)
    note(
        actor,
        "seal_record",
        "record",
        record.number,
        f"{record.title}: record {record.number} sealed",
        {"aircraft_id": run.aircraft_id, "sequence": record.sequence, "digest": record.digest},
    )
    _settle_task(actor, run, record)
    refresh_trends_of(run)
    return record


def _must_bind_the_same(run: BenchRun, content: SignedContent) -> None:
    if any(row.content_digest != content.digest for row in run.signatures.all()):
        raise Conflict(
            "content_changed", "A signature was given for other content. Abandon the run and repeat it."
        )


def _seal_run(run: BenchRun, content: SignedContent) -> SignedRecord:
    signatures = [signature_data(row) for row in run.signatures.order_by("signed_at", "id")]
    kind = SignedRecord.Kind.INSPECTION if run.procedure_version.is_inspection else SignedRecord.Kind.WORK
    record = append_record(
        run.aircraft,
        {**content.payload, "signatures": signatures},
        SignedRecord(
            kind=kind,
            run=run,
            title=run.task.title,
            verdict=run.verdict,
            completed_on=completed_day(run),
        ),
    )
    run.state = RunState.SIGNED
    run.version += 1
    run.save()
    return record


def _settle_task(actor: Actor, run: BenchRun, record: SignedRecord) -> None:
    """Only PASS passes: anything else is sealed as it is, and the task stands open again."""
    if run.verdict != Outcome.PASS:
        words = f"record {record.number} says {run.verdict.upper().replace('_', ' ')}: {_reason(run)}"
        run.task = return_task(actor=actor, task_id=run.task_id, words=words)
        return
    completion = Completion(
        task_id=run.task_id,
        at=run.finished_at or now(),
        counters=counters_at(run.aircraft_id, run.finished_at or now()),
        proof=record.number,
    )
    run.task = complete_task(actor=actor, completion=completion)


def _reason(run: BenchRun) -> str:
    return str(run.verdict_detail.get("reason", ""))[:250]
