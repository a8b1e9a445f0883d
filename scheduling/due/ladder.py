"""When to remind: the steps of a ladder before a limit, at it, and each day after it. Pure.

Only the step that stands now is told. A job that was down for three days finds one step, not three; what is
overdue has one key a day, so that days missed collapse into the present one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from fleet.common.errors import Invalid, Reason
from fleet.quantities import RefusedInput, parse_hours
from scheduling.due.terms import (
    IN_MINUTES,
    Combine,
    DueResult,
    DueStatus,
    Group,
    LimitDue,
    Limits,
    Measure,
    Point,
)
from scheduling.due.wording import size_words

ROLES = ("controller", "technician", "inspector", "director", "administrator", "assigned")
STEP_FIELDS: Mapping[str, tuple[Measure, ...]] = MappingProxyType({
    "days": (Measure.DAYS, Measure.MONTHS, Measure.DATE, Measure.SEASON),
    "hours": (Measure.HOURS,),
    "landings": (Measure.LANDINGS,),
    "cycles": (Measure.CYCLES,),
    "uses": (Measure.USES,),
    "use_hours": (Measure.USE_MINUTES,),
    "flight_days": (Measure.FLIGHT_DAYS,),
})  # fmt: skip
FIELD_OF = {measure: name for name, measures in STEP_FIELDS.items() for measure in measures}
NUMBERS = ("overdue_every_days", "acknowledge_within_hours", "acknowledge_last")
MOST = 1_000_000


class Stage(StrEnum):
    """How far a matter has come."""

    BEFORE = "before"
    REACHED = "reached"
    OVERDUE = "overdue"


@dataclass(frozen=True, slots=True)
class Ladder:
    """Steps by field name (minutes for hours), largest first, and who is told.

    `acknowledge_within_hours` 0: nobody need acknowledge. Otherwise the last `acknowledge_last` steps and all
    that follows are passed on to the director when nobody acknowledged in time.
    """

    steps: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    to: tuple[str, ...] = ("controller",)
    overdue_every_days: int = 1
    overdue_to: tuple[str, ...] = ("director",)
    acknowledge_within_hours: int = 0
    acknowledge_last: int = 1


@dataclass(frozen=True, slots=True)
class Standing:
    """How one limit stands: what is left in its own units (days, minutes, counts), negative when past."""

    path: str
    measure: Measure
    due_at: Point
    remaining: int
    is_overdue: bool = False


@dataclass(frozen=True, slots=True)
class Rung:
    """The step that stands now. `key` is the same until a further step is reached or the due point moves."""

    stage: Stage
    name: str
    key: str
    words: str
    standing: Standing
    must_acknowledge: bool

    @property
    def is_past(self) -> bool:
        """Whether the limit is reached or passed."""
        return self.stage is not Stage.BEFORE


def rung_of(ladder: Ladder, standings: Iterable[Standing], today: date) -> Rung | None:
    """The furthest step reached by any of the limits, or None while all are further off than the first.

    Example: 30, 14, 7, 1 days and 9 days left give the step "14 days before"; two days past give
    "overdue 2026-03-14", a new key each day.
    """
    rungs = [rung for one in standings if (rung := _rung(ladder, one, today)) is not None]
    return max(rungs, key=lambda rung: _rank(ladder, rung), default=None)


def _rung(ladder: Ladder, standing: Standing, today: date) -> Rung | None:
    if standing.remaining <= 0:
        return _past(ladder, standing, today)
    steps = ladder.steps.get(FIELD_OF[standing.measure], ())
    reached = [step for step in steps if standing.remaining <= step]
    if not reached:
        return None
    step = min(reached)
    must = step in steps[len(steps) - ladder.acknowledge_last :]
    words = f"{size_words(standing.measure, step)} before"
    return _named(Stage.BEFORE, f"{FIELD_OF[standing.measure]}-{step}", words, standing, must)


def _past(ladder: Ladder, standing: Standing, today: date) -> Rung:
    stage = Stage.OVERDUE if standing.is_overdue else Stage.REACHED
    told_on = date.fromordinal(today.toordinal() - today.toordinal() % ladder.overdue_every_days)
    words = "overdue" if standing.is_overdue else "due now"
    return _named(stage, f"{stage.value}-{told_on.isoformat()}", words, standing, must=True)


def _named(stage: Stage, name: str, words: str, standing: Standing, must: bool) -> Rung:
    due = standing.due_at.isoformat() if isinstance(standing.due_at, date) else str(standing.due_at)
    return Rung(stage, name, f"{standing.path}:{due}:{name}", words, standing, must)


def _rank(ladder: Ladder, rung: Rung) -> tuple[int, float]:
    """How far a step is: by stage, before the limit by the share of the ladder climbed."""
    order = {Stage.BEFORE: 0, Stage.REACHED: 1, Stage.OVERDUE: 2}[rung.stage]
    steps = ladder.steps.get(FIELD_OF[rung.standing.measure], ())
    climbed = sum(1 for step in steps if rung.standing.remaining <= step)
    return (order, climbed / len(steps) if steps else 1.0)


def standings_of(limits: Limits, result: DueResult) -> tuple[Standing, ...]:
    """The limits of a judged item that may decide: all of them where the first decides, else the governing one."""
    dues: Sequence[LimitDue] = result.limits if only_first(limits) else (result.limit(result.governing),)
    return tuple(
        Standing(due.path, due.limit.measure, due.due_at, due.remaining, due.status is DueStatus.OVERDUE)
        for due in dues
        if due.due_at is not None and due.remaining is not None
    )


def only_first(limits: Limits) -> bool:
    """Whether every group of the tree is decided by its first member: a single limit is."""
    if not isinstance(limits, Group):
        return True
    lone = limits.combine is Combine.FIRST or len(limits.members) == 1
    return lone and all(only_first(member) for member in limits.members)


def ladder_from_data(data: Mapping[str, Any]) -> Ladder:
    """Read a ladder as it is written. Raises Invalid (`bad_ladder`) naming every wrong field.

    `{"days": [30, 14, 7, 1], "hours": ["25:00", "10:00"], "to": ["controller"], "overdue_to": ["director"]}`
    """
    reasons: list[Reason] = []
    known = {*STEP_FIELDS, *NUMBERS, "to", "overdue_to"}
    for name in sorted(set(data) - known):
        reasons.append(Reason("is no part of a ladder", name, str(data[name])[:40], f"use {_list(known)}"))
    steps = {name: _steps(name, data[name], reasons) for name in STEP_FIELDS if name in data}
    ladder = Ladder(
        steps={name: several for name, several in steps.items() if several},
        to=_roles("to", data, ("controller",), reasons),
        overdue_to=_roles("overdue_to", data, ("director",), reasons),
        overdue_every_days=_number("overdue_every_days", data, 1, 1, reasons),
        acknowledge_within_hours=_number("acknowledge_within_hours", data, 0, 0, reasons),
        acknowledge_last=_number("acknowledge_last", data, 1, 0, reasons),
    )
    if reasons:
        raise Invalid("bad_ladder", "The reminder steps make no sense as written.", *reasons)
    return ladder


def _steps(name: str, written: object, reasons: list[Reason]) -> tuple[int, ...]:
    found: set[int] = set()
    for value in written if isinstance(written, list) else [None]:
        step = _step(name, value)
        if step is None or not 0 < step <= MOST:
            remedy = (
                'write hours such as "25:00"' if name in ("hours", "use_hours") else "write whole numbers"
            )
            reasons.append(Reason("is not a step above zero", name, str(value)[:40], remedy))
        else:
            found.add(step)
    return tuple(sorted(found, reverse=True))


def _step(name: str, value: object) -> int | None:
    if STEP_FIELDS[name][0] in IN_MINUTES:
        try:
            return parse_hours(value, field=name)
        except RefusedInput:
            return None
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def _roles(
    name: str, data: Mapping[str, Any], usual: tuple[str, ...], reasons: list[Reason]
) -> tuple[str, ...]:
    written = data.get(name, list(usual))
    if isinstance(written, list) and written and all(role in ROLES for role in written):
        return tuple(dict.fromkeys(written))
    reasons.append(Reason("names nobody who can be told", name, str(written)[:60], f"use {_list(ROLES)}"))
    return usual


def _number(name: str, data: Mapping[str, Any], usual: int, least: int, reasons: list[Reason]) -> int:
    written = data.get(name, usual)
    if isinstance(written, int) and not isinstance(written, bool) and least <= written <= MOST:
        return written
    reasons.append(Reason("is not a whole number in range", name, str(written)[:40], f"use {least} or more"))
    return usual


def _list(words: Iterable[str]) -> str:
    return ", ".join(sorted(words))
