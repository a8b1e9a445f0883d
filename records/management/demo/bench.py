"""Writes past work as it would stand had it been done here: runs, answers, readings, signatures, sealed records.

The judge, the content of a record, the chain and the rule of complete entries are the product's own; only the
rows are written many at once, because entering a past of two years step by step would take minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from fleet.common.clock import frozen
from fleet.models import Authorisation, Calibration, Certificate, Equipment, FluidLot, TrailEntry, User
from fleet.selectors.meters import Counters
from records.gather.entry import Entered, run_payload
from records.gather.judging import entries_for
from records.judge.bench_run import judge_run
from records.judge.bench_run_data import run_verdict_to_data
from records.management.demo.entries import Answered, Sheet
from records.models import (
    BenchRun,
    EquipmentUse,
    LotUse,
    Measurement,
    Photo,
    RunState,
    Signature,
    SignedRecord,
    StepAnswer,
)
from records.selectors.runs import content_of_run
from records.services.run_access import completed_day
from records.services.sealing import append_record, signature_data
from records.services.verdicts import AnswerOutcome, measurements_of, outcome_of
from scheduling.models import Task, TaskCause
from scheduling.steps.terms import StepKind

MEANING = Signature.Meaning


@dataclass(frozen=True, slots=True)
class Picture:
    """A photograph kept once and shown by every run of one aircraft."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Signer:
    """Somebody who signs, with what their signature rests on."""

    user: User
    certificate: Certificate
    authorisation: Authorisation


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of past work, everything about it known before its rows are written."""

    task: Task
    causes: tuple[TaskCause, ...]
    sheet: Sheet
    begin: datetime
    ends: datetime
    counters: Counters
    counters_after: Counters
    answered: tuple[Answered, ...]
    performer: Signer
    inspector: Signer | None
    equipment: dict[str, tuple[Equipment, Calibration | None]]
    lot: FluidLot | None
    picture: Picture
    number: str


def ends_at(answered: Sequence[Answered]) -> datetime:
    """When work is completed: a minute after its last answer."""
    return answered[-1].at + timedelta(minutes=1)


def signed_at(answered: Sequence[Answered], sheet: Sheet) -> tuple[datetime, ...]:
    """When whoever did it signs, and whoever inspected it where the procedure asks for that."""
    first = ends_at(answered) + timedelta(minutes=6)
    return (first, first + timedelta(minutes=17)) if sheet.version.needs_countersignature else (first,)


def sealed_at(answered: Sequence[Answered], sheet: Sheet) -> datetime:
    """The last signature seals."""
    return signed_at(answered, sheet)[-1]


@dataclass
class Kept:
    """The rows of one piece of work, in the order they are kept."""

    work: Work
    run: BenchRun
    answers: list[StepAnswer] = field(default_factory=list)
    measurements: list[Measurement] = field(default_factory=list)
    equipment: list[EquipmentUse] = field(default_factory=list)
    lots: list[LotUse] = field(default_factory=list)
    photos: list[Photo] = field(default_factory=list)

    def entered(self) -> Entered:
        """What the content of the record is made of."""
        return Entered(
            counters=self.work.counters_after,
            causes=self.work.causes,
            answers=self.answers,
            measurements=self.measurements,
            equipment=sorted(self.equipment, key=lambda use: use.role),
            lots=self.lots,
            photos=self.photos,
        )


def write_work(works: list[Work]) -> None:
    """Write everything, oldest first, so that every chain grows in the order of time."""
    runs = BenchRun.objects.bulk_create([_run(work) for work in works], batch_size=200)
    kept = [Kept(work, run) for work, run in zip(works, runs, strict=True)]
    _write_provisions(kept)
    _write_answers(kept)
    signatures: list[Signature] = []
    trail: list[TrailEntry] = []
    for one in kept:
        one.run.content = run_payload(one.run, one.work.sheet.content, one.entered())
        mine = _signatures(one.work, one.run)
        trail.append(_seal(one.work, one.run, mine))
        signatures += mine
    Signature.objects.bulk_create(signatures, batch_size=200)
    TrailEntry.objects.bulk_create(trail, batch_size=200)


def _run(work: Work) -> BenchRun:
    task = work.task
    return BenchRun(
        operator_id=task.operator_id,
        task=task,
        aircraft=task.aircraft,
        procedure_version=work.sheet.version,
        key=f"carried-over-{task.pk}",
        state=RunState.OPEN,
        opened_by=work.performer.user,
        performer=work.performer.user,
        started_at=work.begin,
        finished_at=work.ends,
        minutes_at_start=work.counters.minutes,
        landings_at_start=work.counters.landings,
    )


def _write_provisions(kept: list[Kept]) -> None:
    for one in kept:
        one.equipment = [
            EquipmentUse(
                run=one.run,
                equipment=equipment,
                role=role,
                certificate=calibration.certificate if calibration else "",
                calibration_due=calibration.due_on if calibration else None,
            )
            for role, (equipment, calibration) in one.work.equipment.items()
        ]
        one.photos = [
            Photo(
                run=one.run,
                step=step.key,
                key="photo",
                file=one.work.picture.name,
                sha256=one.work.picture.sha256,
                media_type="image/png",
                taken_at=one.work.begin,
                by=one.work.performer.user,
            )
            for step in one.work.sheet.steps
            if step.kind is StepKind.PHOTO
        ]
        fluid = one.work.sheet.content.fluid
        if one.work.lot is not None and fluid is not None:
            amount = str(fluid.minimum + 5)
            one.lots = [LotUse(run=one.run, lot=one.work.lot, amount=amount, unit=fluid.unit)]
    EquipmentUse.objects.bulk_create((row for one in kept for row in one.equipment), batch_size=500)
    LotUse.objects.bulk_create((row for one in kept for row in one.lots), batch_size=500)
    Photo.objects.bulk_create((row for one in kept for row in one.photos), batch_size=500)


def _write_answers(kept: list[Kept]) -> None:
    """Answers with their outcomes and readings with their verdicts, all at once."""
    for one in kept:
        outcomes = _judge(one.work, one.run)
        one.answers = [_answer(one.work, one.run, row, outcomes[row.step]) for row in one.work.answered]
        used = {role: equipment for role, (equipment, _) in one.work.equipment.items()}
        for step, answer in zip(one.work.sheet.steps, one.answers, strict=True):
            if step.kind in (StepKind.COLLECT, StepKind.READ_VALUE):
                one.measurements += measurements_of(step, answer, outcomes[step.key], used)
    StepAnswer.objects.bulk_create((row for one in kept for row in one.answers), batch_size=500)
    Measurement.objects.bulk_create((row for one in kept for row in one.measurements), batch_size=300)


def _judge(work: Work, run: BenchRun) -> dict[str, AnswerOutcome]:
    """The verdict on the run, and what each of its steps came to."""
    content, definition = work.sheet.content, work.sheet.definition
    given = {row.step: row.answer for row in work.answered}
    verdict = judge_run(definition, entries_for(content, definition, given, work.lot))
    run.verdict = verdict.outcome.value
    run.verdict_detail = run_verdict_to_data(verdict, definition)
    return {step.key: outcome_of(step, content, definition, verdict) for step in work.sheet.steps}


def _answer(work: Work, run: BenchRun, row: Answered, outcome: AnswerOutcome) -> StepAnswer:
    return StepAnswer(
        run=run,
        step=row.step,
        key=f"{run.key}-{row.step}",
        answer=row.answer,
        outcome=outcome.outcome,
        outcome_words=outcome.words[:300],
        captured_at=row.at,
        received_at=row.at,
        by=work.performer.user,
    )


def _signatures(work: Work, run: BenchRun) -> list[Signature]:
    digest = content_of_run(run).digest
    moments = signed_at(work.answered, work.sheet)
    signers = [(work.performer, MEANING.PERFORMED)]
    if work.inspector is not None:
        signers.append((work.inspector, MEANING.INSPECTED))
    return [
        _signature(run, signer, meaning, at, digest)
        for (signer, meaning), at in zip(signers, moments, strict=True)
    ]


def _seal(work: Work, run: BenchRun, signatures: list[Signature]) -> TrailEntry:
    assert run.content is not None  # noqa: S101 - written just before
    with frozen(signatures[-1].signed_at):
        kind = SignedRecord.Kind.INSPECTION if work.sheet.version.is_inspection else SignedRecord.Kind.WORK
        record = append_record(
            run.aircraft,
            {**run.content, "signatures": [signature_data(row) for row in signatures]},
            SignedRecord(
                kind=kind, run=run, title=run.task.title, verdict=run.verdict, completed_on=completed_day(run)
            ),
        )
    if record.number != work.number:
        raise ValueError(f"{run}: sealed as {record.number}, its task quotes {work.number}")
    run.state = RunState.SIGNED
    run.save()
    return _note(run, record, signatures[-1].user)


def _signature(
    run: BenchRun, signer: Signer, meaning: Signature.Meaning, at: datetime, digest: str
) -> Signature:
    return Signature(
        run=run,
        user=signer.user,
        name=signer.user.full_name,
        meaning=meaning,
        certificate_kind=signer.certificate.kind,
        certificate_number=signer.certificate.number,
        authorisation=signer.authorisation.reference,
        proof=Signature.Proof.PASSWORD,
        content_digest=digest,
        signed_at=at,
    )


def _note(run: BenchRun, record: SignedRecord, by: User) -> TrailEntry:
    return TrailEntry(
        operator_id=run.operator_id,
        at=record.sealed_at,
        actor=by,
        actor_name=by.full_name,
        action="seal_record",
        subject="record",
        subject_id=record.number,
        words=f"{record.title}: record {record.number} sealed",
        detail={"aircraft": run.aircraft.registration, "sequence": record.sequence, "digest": record.digest},
    )
