"""A procedure's text and a run's answers into what the judge is asked with. Decides nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from fleet.models import FluidLot
from fleet.quantities import Quantity, exact_text, parse_quantity
from records.judge.bench_run import DutyPoint, Entry, Part, Point, Precondition, RunDefinition, Section
from records.judge.duty import DutyLimit, PumpRun
from records.judge.normalise import RunTime
from records.judge.weighing import DensityTable, density_table, weighing_from_data
from records.models import BenchRun, StepAnswer
from scheduling.limits.kinds import AllYesLimit, MaximumLimit, MinimumLimit, WindowLimit
from scheduling.steps.parse import procedure_from_data
from scheduling.steps.terms import Point as PointText
from scheduling.steps.terms import PointRole, ProcedureContent, Step, StepKind

MILLISECONDS = 1000
Answers = Mapping[str, Mapping[str, Any]]


def content_of(run: BenchRun) -> ProcedureContent:
    """The text the run follows."""
    return procedure_from_data(run.procedure_version.content)


def latest_answers(run: BenchRun, content: ProcedureContent) -> dict[str, StepAnswer]:
    """The answer that counts at each step: the last one received.

    What was collected during a timed run that was repeated afterwards counts no longer: it is to be collected again.
    """
    return latest_of(run.answers.order_by("id"), content)


def latest_of(answers: Iterable[StepAnswer], content: ProcedureContent) -> dict[str, StepAnswer]:
    """The same of answers at hand, in the order they were received."""
    latest = {answer.step: answer for answer in answers}
    for step in content.steps:
        timed = latest.get(step.run_step) if step.run_step else None
        collected = latest.get(step.key)
        if timed is not None and collected is not None and collected.pk < timed.pk:
            del latest[step.key]
    return latest


def definition_for(
    content: ProcedureContent, options: frozenset[str], outlets: Mapping[str, frozenset[str]]
) -> RunDefinition:
    """What this aircraft's run is judged by, in the procedure's order.

    `outlets` holds, by step key, the position codes that must wet.
    """
    parts: list[Part] = []
    for step in content.steps_for(options):
        parts.extend(_parts_of(step, content, outlets))
    computed = (point for point in content.points_for(options) if point.of)
    parts.extend(Point(point.key, point.name, point.limit, of=point.of) for point in computed)
    return RunDefinition(tuple(parts))


def _parts_of(step: Step, content: ProcedureContent, outlets: Mapping[str, frozenset[str]]) -> Iterator[Part]:
    match step.kind:
        case StepKind.CHECK | StepKind.SET_CONTROL:
            yield Point(step.key, step.title, AllYesLimit(1), section=Section.CHECK)
        case StepKind.READ_VALUE:
            yield _point(content.point(step.point))
        case StepKind.TIMED_RUN:
            yield from _timed(step)
        case StepKind.DUTY_RUN:
            yield from _duty(step)
        case StepKind.OUTLETS:
            yield from _outlets(step, len(outlets.get(step.key, ())))
        case StepKind.COLLECT:
            for _, key in step.side_points:
                yield _point(content.point(key))
        case _:
            return


def _point(text: PointText) -> Part:
    if text.role is PointRole.PRECONDITION:
        return Precondition(text.key, text.name, text.limit)
    rule = text.normalise
    run_time = RunTime(Quantity(rule.seconds, "s"), rule.most_percent) if rule else None
    return Point(text.key, text.name, text.limit, run_time=run_time)


def _timed(step: Step) -> Iterator[Part]:
    if step.seconds is None or step.tolerance_seconds is None:
        return
    low = max(step.seconds - step.tolerance_seconds, Decimal(0))
    yield Precondition(step.key, step.title, WindowLimit("s", low, step.seconds + step.tolerance_seconds))


def _duty(step: Step) -> Iterator[Part]:
    on, rest = step.max_on_seconds or Decimal(0), step.min_rest_seconds or Decimal(0)
    limit = DutyLimit(int(on * MILLISECONDS), int(rest * MILLISECONDS))
    yield DutyPoint(step.key, step.title, limit)
    yield Point(
        f"{step.key}-count",
        f"{step.title}: runs made",
        MinimumLimit("1", Decimal(step.runs)),
        section=Section.CHECK,
    )


def _outlets(step: Step, count: int) -> Iterator[Part]:
    if not count:
        return
    yield Point(step.key, step.title, AllYesLimit(count), section=Section.CHECK)
    if step.longest_seconds is not None:
        limit = MaximumLimit("s", step.longest_seconds)
        yield Point(f"{step.key}-time", f"{step.title}: time to wet", limit)


def entries_for(
    content: ProcedureContent, definition: RunDefinition, answers: Answers, lot: FluidLot | None
) -> dict[str, Entry]:
    """The answers as entries by part; a step not answered has none."""
    known = {part.key for part in definition.parts}
    entries: dict[str, Entry] = {}
    for step in content.steps:
        answer = answers.get(step.key)
        if answer is not None:
            entries.update(_entries_of(step, answer, answers, lot))
    return {key: entry for key, entry in entries.items() if key in known}


def _entries_of(
    step: Step, answer: Mapping[str, Any], answers: Answers, lot: FluidLot | None
) -> Iterable[tuple[str, Entry]]:
    match step.kind:
        case StepKind.CHECK | StepKind.SET_CONTROL:
            return [(step.key, Entry(readings=(bool(answer["done"]),)))]
        case StepKind.READ_VALUE:
            reading = parse_quantity(answer["value"], answer["unit"], field=step.point)
            return [(step.point, Entry(readings=(reading,)))]
        case StepKind.TIMED_RUN:
            return [(step.key, Entry(readings=(run_time_of(answer),)))]
        case StepKind.DUTY_RUN:
            return _duty_entries(step, answer)
        case StepKind.OUTLETS:
            return _outlet_entries(step, answer)
        case StepKind.COLLECT:
            return [(point, _collected(step, side, answer, answers, lot)) for side, point in step.side_points]
        case _:
            return []


def _duty_entries(step: Step, answer: Mapping[str, Any]) -> list[tuple[str, Entry]]:
    runs = sorted((_milliseconds(run["on_at"]), _milliseconds(run["off_at"])) for run in answer["runs"])
    count = Quantity(Decimal(len(runs)), "1")
    return [
        (step.key, Entry(runs=tuple(PumpRun(on, off) for on, off in runs))),
        (f"{step.key}-count", Entry(readings=(count,))),
    ]


def _outlet_entries(step: Step, answer: Mapping[str, Any]) -> list[tuple[str, Entry]]:
    rows = answer["outlets"]
    times = tuple(parse_quantity(row["seconds"], "s", field="outlets") for row in rows if row["wet"])
    return [
        (step.key, Entry(readings=tuple(bool(row["wet"]) for row in rows))),
        (f"{step.key}-time", Entry(readings=times)),
    ]


def _collected(
    step: Step, side: str, answer: Mapping[str, Any], answers: Answers, lot: FluidLot | None
) -> Entry:
    row = answer["sides"][side]
    run = answers.get(step.run_step) if step.run_step else None
    run_time = run_time_of(run) if run else None
    if row["method"] == "volume":
        reading = parse_quantity(row["value"], row["unit"], field=f"sides.{side}.value")
        return Entry(readings=(reading,), run_time=run_time)
    written = {
        "gross": {"value": row["gross"], "unit": row["unit"]},
        "tare": {"value": row["tare"], "unit": row["unit"]},
        "temperature": {"value": row["celsius"], "unit": "degC"},
    }
    weighing = weighing_from_data(written, density_of(lot), where=f"sides.{side}")
    return Entry(weighing=weighing, run_time=run_time)


def density_of(lot: FluidLot | None) -> DensityTable:
    """The lot's density table from its supplier's sheet; refused where there is none."""
    rows = lot.density_points.values_list("celsius", "grams_per_ml") if lot else []
    return density_table(list(rows), field="fluid lot density")


def run_time_of(answer: Mapping[str, Any]) -> Quantity:
    """How long a timed run really took, in whole milliseconds as seconds."""
    milliseconds = _milliseconds(answer["stopped_at"]) - _milliseconds(answer["started_at"])
    return Quantity(Decimal(exact_text(Fraction(milliseconds, MILLISECONDS))), "s")


def _milliseconds(moment: str) -> int:
    """Milliseconds since 1970, by whole-number arithmetic."""
    when = datetime.fromisoformat(moment)
    whole = int(when.replace(microsecond=0).timestamp())
    return whole * MILLISECONDS + when.microsecond // MILLISECONDS
