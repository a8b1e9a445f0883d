"""What a procedure is made of: steps, points, conditions, equipment and fluid. Pure.

The data form is what `scheduling.steps.parse` reads; a version's `content` holds exactly that.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from scheduling.limits.kinds import Limit


class StepKind(StrEnum):
    """What a step asks for."""

    CHECK = "check"
    SET_CONTROL = "set_control"
    READ_VALUE = "read_value"
    TIMED_RUN = "timed_run"
    DUTY_RUN = "duty_run"
    OUTLETS = "outlets"
    COLLECT = "collect"
    CAUTION = "caution"
    NOTE = "note"
    PHOTO = "photo"


class PointRole(StrEnum):
    """What a reading is for: the result itself, a condition of its validity, or a time."""

    MEASUREMENT = "measurement"
    PRECONDITION = "precondition"
    TIMING = "timing"


@dataclass(frozen=True, slots=True)
class Condition:
    """Holds on an aircraft that has all of the one and none of the other options."""

    options_all: frozenset[str] = frozenset()
    options_none: frozenset[str] = frozenset()

    def holds(self, options: frozenset[str]) -> bool:
        """`Condition(frozenset({"glass-cockpit"})).holds(frozenset())` is False."""
        return self.options_all <= options and not (self.options_none & options)


ALWAYS = Condition()


@dataclass(frozen=True, slots=True)
class Normalise:
    """Scale a volume to the stated run time; refuse a run further off than `most_percent`."""

    seconds: Decimal
    most_percent: Decimal


@dataclass(frozen=True, slots=True)
class Point:
    """What is measured (or, with `of`, computed from two measured points) and judged by `limit`."""

    key: str
    name: str
    unit: str
    limit: Limit
    role: PointRole = PointRole.MEASUREMENT
    side: str = ""
    of: tuple[str, ...] = ()
    normalise: Normalise | None = None
    nominal: Decimal | None = None
    trend: bool = False


@dataclass(frozen=True, slots=True)
class EquipmentNeed:
    """A tool the procedure asks for, by kind, in a named role."""

    role: str
    kind: str
    name: str
    when: Condition = ALWAYS


@dataclass(frozen=True, slots=True)
class FluidNeed:
    """How much fluid must be aboard or at hand before starting."""

    minimum: Decimal
    unit: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step. Only the fields of its kind are set: see `parse`."""

    key: str
    kind: StepKind
    title: str
    text: str = ""
    caution: str = ""
    when: Condition = ALWAYS
    control: str = ""
    state: str = ""
    point: str = ""
    equipment_role: str = ""
    seconds: Decimal | None = None
    tolerance_seconds: Decimal | None = None
    runs: int = 0
    max_on_seconds: Decimal | None = None
    min_rest_seconds: Decimal | None = None
    zones: tuple[str, ...] = ()
    longest_seconds: Decimal | None = None
    side_points: tuple[tuple[str, str], ...] = ()
    run_step: str = ""

    @property
    def needs_answer(self) -> bool:
        """Every kind but a note must be answered before the run can be finished."""
        return self.kind is not StepKind.NOTE


@dataclass(frozen=True, slots=True)
class ProcedureContent:
    """A whole procedure text."""

    purpose: str
    cautions: tuple[str, ...]
    equipment: tuple[EquipmentNeed, ...]
    fluid: FluidNeed | None
    points: tuple[Point, ...]
    steps: tuple[Step, ...]
    follow_up_on_fail: str = ""

    def steps_for(self, options: frozenset[str]) -> tuple[Step, ...]:
        """The steps that this aircraft's options call for, in order."""
        return tuple(step for step in self.steps if step.when.holds(options))

    def equipment_for(self, options: frozenset[str]) -> tuple[EquipmentNeed, ...]:
        """The equipment that this aircraft's options call for."""
        return tuple(need for need in self.equipment if need.when.holds(options))

    def points_for(self, options: frozenset[str]) -> tuple[Point, ...]:
        """The points that some step of this aircraft reads, and those computed from them."""
        asked = {key for step in self.steps_for(options) for key in points_of(step)}
        return tuple(p for p in self.points if p.key in asked or (p.of and set(p.of) <= asked))

    def point(self, key: str) -> Point:
        """The point of that key; KeyError where there is none."""
        return next(p for p in self.points if p.key == key)

    def step(self, key: str) -> Step | None:
        """The step of that key, or None."""
        return next((s for s in self.steps if s.key == key), None)


def points_of(step: Step) -> tuple[str, ...]:
    """The keys of the points a step reads."""
    collected = tuple(point for _, point in step.side_points)
    return (step.point, *collected) if step.point else collected
