"""A whole bench run: preconditions, checks, duty and points to one overall verdict. Pure.

Every part keeps its own verdict. A broken precondition makes the run INVALID but hides no FAIL: `measured`
says what the readings alone came to, and both are stored.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import assert_never

from fleet.quantities import Quantity, refused
from records.judge.duty import DutyLimit, PumpRun, judge_duty
from records.judge.normalise import RunTime, normalise
from records.judge.precondition import judge_precondition
from records.judge.terms import Amount, Outcome, Reading, Verdict
from records.judge.tolerance import judge
from records.judge.uncertainty import SIMPLE, DecisionRule
from records.judge.weighing import Weighing, volume_of
from scheduling.limits.kinds import Limit


class Section(StrEnum):
    """Which part of the run a verdict belongs to."""

    PRECONDITION = "precondition"
    CHECK = "check"
    DUTY = "duty"
    POINT = "point"


@dataclass(frozen=True, slots=True)
class Precondition:
    """Samples that must all be inside, such as ground power; at least `minimum_samples` of them."""

    key: str
    label: str
    limit: Limit
    minimum_samples: int = 1


@dataclass(frozen=True, slots=True)
class DutyPoint:
    """A pump whose runs must keep a duty limit."""

    key: str
    label: str
    limit: DutyLimit


@dataclass(frozen=True, slots=True)
class Point:
    """Something measured or answered.

    `of` names other points whose amounts are compared instead of own readings (a pair, a ratio); they are
    taken after weighing and normalisation.
    """

    key: str
    label: str
    limit: Limit
    decision_rule: DecisionRule = SIMPLE
    run_time: RunTime | None = None
    of: tuple[str, ...] = ()
    section: Section = Section.POINT


Part = Precondition | DutyPoint | Point


@dataclass(frozen=True, slots=True)
class RunDefinition:
    """What a run consists of, in the procedure's order. Refuses doubled keys and comparisons of nothing."""

    parts: tuple[Part, ...]

    def __post_init__(self) -> None:
        seen: dict[str, Part] = {}
        for part in self.parts:
            if part.key in seen:
                raise refused(
                    "bad_definition", f"{part.key}.key", part.key, "stands twice", "give each its own key"
                )
            for other in part.of if isinstance(part, Point) else ():
                _require_comparable(part.key, other, seen.get(other))
            seen[part.key] = part


@dataclass(frozen=True, slots=True)
class Entry:
    """What was entered for one part: readings or answers, the real run time, a weighing, or pump runs."""

    readings: tuple[Reading, ...] = ()
    run_time: Quantity | None = None
    weighing: Weighing | None = None
    runs: tuple[PumpRun, ...] = ()


NOTHING = Entry()


@dataclass(frozen=True, slots=True)
class PartVerdict:
    """The verdict of one part; `amounts` are what was compared further, `notes` say how they were got.

    `measured` differs from the verdict's outcome when the run time makes a reading no evidence.
    """

    key: str
    label: str
    section: Section
    verdict: Verdict
    measured: Outcome
    amounts: tuple[Amount | Quantity, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RunVerdict:
    """The verdict of the run. `outcome` counts; `measured` is what the readings alone came to.

    They differ when preconditions are broken or missing.
    """

    outcome: Outcome
    measured: Outcome
    reason: str
    parts: tuple[PartVerdict, ...]

    @property
    def passes(self) -> bool:
        """Whether the run counts as passed: PASS and nothing else."""
        return self.outcome is Outcome.PASS

    @property
    def failed(self) -> tuple[PartVerdict, ...]:
        """The parts that failed, also when the run is invalid."""
        failing = (part for part in self.parts if part.measured is Outcome.FAIL)
        return tuple(part for part in failing if part.section is not Section.PRECONDITION)

    def part(self, key: str) -> PartVerdict:
        """The verdict of one part by key; KeyError for a key the definition does not have."""
        for each in self.parts:
            if each.key == key:
                return each
        raise KeyError(key)


# Worst first. A failing reading outranks a missing one: finding the rest cannot undo it.
_WORST_FIRST = (
    Outcome.FAIL,
    Outcome.CONDITIONAL_FAIL,
    Outcome.INVALID,
    Outcome.INCOMPLETE,
    Outcome.CONDITIONAL_PASS,
    Outcome.PASS,
)


def judge_run(
    definition: RunDefinition, entries: Mapping[str, Entry], *, now_ms: int | None = None
) -> RunVerdict:
    """Judge every part and the whole: low voltage and a failing side is INVALID, measured FAIL.

    A part with no entry is INCOMPLETE. `now_ms` is only used for a pump still on. Raises RefusedInput for
    entries no part asks for, and for what a part cannot judge; the field starts with the part's key (`left.gross`).
    """
    for key in entries:
        if key not in {part.key for part in definition.parts}:
            known = ", ".join(part.key for part in definition.parts)
            raise refused("unknown_point", key, key, "is not part of this procedure", f"use one of: {known}")
    judged: dict[str, PartVerdict] = {}
    for part in definition.parts:
        judged[part.key] = _judge_part(part, entries.get(part.key, NOTHING), judged, now_ms)
    return _overall(tuple(judged.values()))


def worst(outcomes: tuple[Outcome, ...]) -> Outcome:
    """The outcome that decides: `worst((PASS, INCOMPLETE, FAIL))` is FAIL; of nothing, INCOMPLETE."""
    return next((each for each in _WORST_FIRST if each in outcomes), Outcome.INCOMPLETE)


def _overall(parts: tuple[PartVerdict, ...]) -> RunVerdict:
    before = [part.verdict.outcome for part in parts if part.section is Section.PRECONDITION]
    rest = [part for part in parts if part.section is not Section.PRECONDITION]
    measured = worst(tuple(part.measured for part in rest))
    outcome = worst(tuple(part.verdict.outcome for part in rest))
    for broken in (Outcome.INCOMPLETE, Outcome.INVALID):
        if broken in before:
            outcome = broken
    deciding = [f"{part.label}: {part.verdict.reason}" for part in parts if not part.verdict.passes]
    return RunVerdict(outcome, measured, "; ".join(deciding) or "everything is inside its limits", parts)


def _judge_part(
    part: Part, entry: Entry, judged: Mapping[str, PartVerdict], now_ms: int | None
) -> PartVerdict:
    match part:
        case Precondition():
            verdict = judge_precondition(
                entry.readings, part.limit, minimum_samples=part.minimum_samples, field=part.key
            )
            return PartVerdict(part.key, part.label, Section.PRECONDITION, verdict, verdict.outcome)
        case DutyPoint():
            verdict = judge_duty(entry.runs, part.limit, now_ms=now_ms)
            return PartVerdict(part.key, part.label, Section.DUTY, verdict, verdict.outcome)
        case Point():
            return _judge_comparison(part, judged) if part.of else _judge_point(part, entry)
        case _:
            assert_never(part)


def _judge_point(point: Point, entry: Entry) -> PartVerdict:
    readings, notes = _weighed(point, entry)
    deviates = False
    if point.run_time is not None and readings:
        if entry.run_time is None:
            verdict = Verdict(Outcome.INCOMPLETE, "the real run time is missing")
            return PartVerdict(point.key, point.label, point.section, verdict, verdict.outcome, (), notes)
        readings, more, deviates = _normalised(point, point.run_time, entry.run_time, readings)
        notes = (*notes, *more)
    verdict = judge(readings, point.limit, decision_rule=point.decision_rule, field=point.key)
    measured = verdict.outcome
    amounts = tuple(each for each in readings if isinstance(each, Amount | Quantity))
    if deviates:
        verdict = replace(verdict, outcome=Outcome.INVALID, reason=f"{notes[-1]}; {verdict.reason}")
    return PartVerdict(point.key, point.label, point.section, verdict, measured, amounts, notes)


def _weighed(point: Point, entry: Entry) -> tuple[tuple[Reading, ...], tuple[str, ...]]:
    if entry.weighing is None:
        return entry.readings, ()
    if entry.readings:
        detail = "has both a reading and a weighing"
        raise refused("two_routes", point.key, "", detail, "give the one that was used")
    weighed = volume_of(entry.weighing, field=point.key)
    return (weighed.amount,), (weighed.reason,)


def _normalised(
    point: Point, run_time: RunTime, took: Quantity, readings: tuple[Reading, ...]
) -> tuple[tuple[Reading, ...], tuple[str, ...], bool]:
    scaled: list[Reading] = []
    note, valid = "", True
    for reading in readings:
        if not isinstance(reading, Amount | Quantity):
            scaled.append(reading)
            continue
        result = normalise(reading, took, run_time, field=f"{point.key}.run_time")
        scaled.append(result.amount)
        note, valid = result.reason, result.valid
    return tuple(scaled), (note,) if note else (), not valid


def _judge_comparison(point: Point, judged: Mapping[str, PartVerdict]) -> PartVerdict:
    others = [judged[key] for key in point.of]
    readings = tuple(_only_amount(other) for other in others)
    verdict = judge(readings, point.limit, decision_rule=point.decision_rule, field=point.key)
    measured = verdict.outcome
    spoiled = [other.label for other in others if other.verdict.outcome is Outcome.INVALID]
    if spoiled:
        reason = f"{', '.join(spoiled)} is no evidence; {verdict.reason}"
        verdict = replace(verdict, outcome=Outcome.INVALID, reason=reason)
    return PartVerdict(point.key, point.label, point.section, verdict, measured)


def _only_amount(other: PartVerdict) -> Amount | Quantity | None:
    if len(other.amounts) > 1:
        detail = "has more than one reading, so it cannot be compared with another point"
        raise refused(
            "too_many_readings", other.key, len(other.amounts), detail, "keep the reading that counts"
        )
    return other.amounts[0] if other.amounts else None


def _require_comparable(key: str, other: str, found: Part | None) -> None:
    usable = isinstance(found, Point) and not found.of
    if not usable:
        detail = "does not stand before it as a measured point"
        raise refused(
            "bad_definition", f"{key}.of", other, detail, "name points measured earlier in the procedure"
        )
