"""Asking the judge: provisional words per answer, measurements kept, and the verdict of the whole run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fleet.models import Equipment, FluidLot
from fleet.selectors.aircraft import options_of, outlets_of
from records.gather.judging import definition_for, entries_for, latest_answers
from records.judge.bench_run import PartVerdict, RunDefinition, RunVerdict, judge_run
from records.judge.bench_run_data import part_verdict_to_data
from records.models import BenchRun, Measurement, StepAnswer
from scheduling.steps.terms import ProcedureContent, Step, StepKind, points_of


@dataclass(frozen=True, slots=True)
class AnswerOutcome:
    """What one answer came to: the worst of its parts, in words, and each part's stored form."""

    outcome: str = ""
    words: str = ""
    parts: tuple[dict[str, Any], ...] = field(default=())


def definition_of(run: BenchRun, content: ProcedureContent) -> RunDefinition:
    """What this run is judged by."""
    options = options_of(run.aircraft)
    outlets = {
        step.key: frozenset(outlets_of(run.aircraft, step.zones).values_list("code", flat=True))
        for step in content.steps_for(options)
        if step.kind is StepKind.OUTLETS
    }
    return definition_for(content, options, outlets)


def lot_of(run: BenchRun) -> FluidLot | None:
    """The fluid lot the run was done with."""
    use = run.lot_uses.select_related("lot").order_by("id").last()
    return use.lot if use else None


def judge_whole(run: BenchRun, content: ProcedureContent) -> tuple[RunVerdict, RunDefinition]:
    """The verdict on everything entered so far."""
    definition = definition_of(run, content)
    answers = {key: answer.answer for key, answer in latest_answers(run, content).items()}
    entries = entries_for(content, definition, answers, lot_of(run))
    return judge_run(definition, entries), definition


def judge_answer(
    run: BenchRun, content: ProcedureContent, step: Step, answer: Mapping[str, Any]
) -> AnswerOutcome:
    """What this answer alone comes to; refuses (with the field) what the judge cannot judge."""
    definition = definition_of(run, content)
    answers: dict[str, Mapping[str, Any]] = {k: a.answer for k, a in latest_answers(run, content).items()}
    answers[step.key] = answer
    verdict = judge_run(definition, entries_for(content, definition, answers, lot_of(run)))
    return outcome_of(step, content, definition, verdict)


def outcome_of(
    step: Step, content: ProcedureContent, definition: RunDefinition, verdict: RunVerdict
) -> AnswerOutcome:
    """What one step came to in a verdict on the run."""
    mine = _parts_of(step, content, verdict)
    if not mine:
        return AnswerOutcome()
    known = {part.key: part for part in definition.parts}
    worst = next((part for part in mine if not part.verdict.passes), mine[0])
    words = "; ".join(f"{part.label}: {part.verdict.reason}" for part in mine if not part.verdict.passes)
    return AnswerOutcome(
        worst.verdict.outcome.value,
        words or "; ".join(part.verdict.reason for part in mine),
        tuple(part_verdict_to_data(part, known[part.key]) for part in mine),
    )


def _parts_of(step: Step, content: ProcedureContent, verdict: RunVerdict) -> list[PartVerdict]:
    """The parts this step alone decides, then the comparisons that its points complete."""
    own = {step.key, f"{step.key}-count", f"{step.key}-time", *points_of(step)}
    compared = {p.key for p in content.points if p.of and set(p.of) & own}
    return [part for part in verdict.parts if part.key in own | compared]


def write_measurements(run: BenchRun, step: Step, answer: StepAnswer, outcome: AnswerOutcome) -> None:
    """Keep each reading of the answer as written, with the limit it was judged by and its verdict."""
    if _points(step):
        used = {use.role: use.equipment for use in run.equipment_uses.select_related("equipment")}
        Measurement.objects.bulk_create(measurements_of(step, answer, outcome, used))


def measurements_of(
    step: Step, answer: StepAnswer, outcome: AnswerOutcome, used: Mapping[str, Equipment]
) -> list[Measurement]:
    """The readings of one answer as they are kept; `used` is the run's equipment by role."""
    parts = {part["key"]: part for part in outcome.parts}
    rows = [_row((step, answer), (point, side), parts) for point, side in _points(step)]
    for row in rows:
        row.equipment = used.get(step.equipment_role or row.side)
    return rows


def _points(step: Step) -> list[tuple[str, str]]:
    if step.kind is StepKind.COLLECT:
        return [(point, side) for side, point in step.side_points]
    return [(step.point, "")] if step.kind is StepKind.READ_VALUE else []


def _row(
    entered: tuple[Step, StepAnswer],
    place: tuple[str, str],
    parts: Mapping[str, Mapping[str, Any]],
) -> Measurement:
    (_, answer), (point, side) = entered, place
    written = answer.answer["sides"][side] if side else answer.answer
    part = parts[point]
    is_weighed = written.get("method") == "weighed"
    return Measurement(
        run=answer.run,
        answer=answer,
        point=point,
        side=side,
        value=written["gross"] if is_weighed else written["value"],
        unit=written["unit"],
        detail={
            "method": written.get("method", "reading"),
            **({"tare": written["tare"], "celsius": written["celsius"]} if is_weighed else {}),
            "amounts": part["amounts"],
            "notes": part["notes"],
            "allowed": part["allowed"],
        },
        limit=part["limit"],
        verdict=part["outcome"],
        margin=part["margin"] or "",
        words=part["reason"][:300],
        captured_at=answer.captured_at,
    )
