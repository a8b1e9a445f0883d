"""A procedure in words: what each step asks for, what each point must be, when something applies. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from scheduling.limits.kinds import describe
from scheduling.steps.terms import Condition, Point, PointRole, ProcedureContent, Step, StepKind

Names = Mapping[str, str]

KIND_WORDS: dict[StepKind, str] = {
    StepKind.CHECK: "Check",
    StepKind.SET_CONTROL: "Set a control",
    StepKind.READ_VALUE: "Read a value",
    StepKind.TIMED_RUN: "Run for a time",
    StepKind.DUTY_RUN: "Run under a duty limit",
    StepKind.OUTLETS: "Every outlet wet",
    StepKind.COLLECT: "Collect and measure",
    StepKind.CAUTION: "Caution",
    StepKind.NOTE: "Note",
    StepKind.PHOTO: "Photograph",
}
ROLE_WORDS = {
    PointRole.MEASUREMENT: "result",
    PointRole.PRECONDITION: "condition of a valid test",
    PointRole.TIMING: "time",
}


@dataclass(frozen=True, slots=True)
class StepWords:
    """One step for reading: number, kind in words, title, text, caution, what it asks, when it applies."""

    number: int
    kind: str
    title: str
    text: str
    caution: str
    asks: tuple[str, ...]
    applies: str
    is_caution: bool


@dataclass(frozen=True, slots=True)
class PointWords:
    """One point for reading: its limit in words, what it is for, and what else holds for it."""

    key: str
    name: str
    limit: str
    role: str
    more: str


def condition_words(when: Condition, names: Names) -> str:
    """When something applies: "only with glass cockpit and without belly pod"; empty where it always does."""
    parts = [f"with {_listed(when.options_all, names)}"] if when.options_all else []
    parts += [f"without {_listed(when.options_none, names)}"] if when.options_none else []
    return f"only {' and '.join(parts)}" if parts else ""


def _listed(codes: frozenset[str], names: Names) -> str:
    words = [names.get(code, code.replace("-", " ")) for code in sorted(codes)]
    return " and ".join(words)


def step_words(content: ProcedureContent, names: Names) -> tuple[StepWords, ...]:
    """Every step for reading, numbered from 1.

    Example: a timed run of 300 s with a tolerance of 5 s asks "Run for 300 s, ±5 s".
    """
    return tuple(
        StepWords(
            number=number,
            kind=KIND_WORDS[step.kind],
            title=step.title,
            text=step.text,
            caution=step.caution,
            asks=tuple(ASKS.get(step.kind, _nothing)(step, content)),
            applies=condition_words(step.when, names),
            is_caution=step.kind is StepKind.CAUTION,
        )
        for number, step in enumerate(content.steps, start=1)
    )


def point_words(content: ProcedureContent) -> tuple[PointWords, ...]:
    """Every point for reading.

    Example: a point of 1550 mL +600/−300 mL reads "1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)".
    """
    return tuple(
        PointWords(
            key=point.key,
            name=point.name,
            limit=describe(point.limit),
            role=ROLE_WORDS[point.role],
            more="; ".join(_more(point, content)),
        )
        for point in content.points
    )


def _more(point: Point, content: ProcedureContent) -> list[str]:
    names = {other.key: other.name for other in content.points}
    words = [f"compares {' and '.join(names.get(key, key) for key in point.of)}"] if point.of else []
    if point.normalise:
        seconds, percent = point.normalise.seconds, point.normalise.most_percent
        words.append(f"scaled to a run of {_number(seconds)} s, at most {_number(percent)} % off")
    if point.nominal is not None:
        words.append(f"nominal {_number(point.nominal)} {point.unit}")
    if point.trend:
        words.append("followed as a trend")
    return words


def _nothing(_step: Step, _content: ProcedureContent) -> list[str]:
    return []


def _control(step: Step, _content: ProcedureContent) -> list[str]:
    return [f"{step.control}: {step.state}"]


def _read(step: Step, content: ProcedureContent) -> list[str]:
    needs = {need.role: need.name for need in content.equipment}
    words = [_point_line(content, step.point)]
    return [*words, f"With: {needs[step.equipment_role]}"] if step.equipment_role in needs else words


def _timed(step: Step, content: ProcedureContent) -> list[str]:
    tolerance = f", ±{_number(step.tolerance_seconds)} s" if step.tolerance_seconds else ""
    words = [f"Run for {_number(step.seconds)} s{tolerance}"]
    return [*words, _point_line(content, step.point)] if step.point else words


def _duty(step: Step, _content: ProcedureContent) -> list[str]:
    times = "1 run" if step.runs == 1 else f"{step.runs} runs"
    on, rest = _number(step.max_on_seconds), _number(step.min_rest_seconds)
    return [
        f"{times}, at most {on} s on, at least {rest} s rest",
        "A shorter rest does not count as rest: the time on goes on adding up",
    ]


def _outlets(step: Step, _content: ProcedureContent) -> list[str]:
    words = [f"Every outlet of: {', '.join(step.zones)}"]
    longest = step.longest_seconds
    return [*words, f"Wet within {_number(longest)} s"] if longest is not None else words


def _collect(step: Step, content: ProcedureContent) -> list[str]:
    words = [f"{side.capitalize()}: {_point_line(content, key)}" for side, key in step.side_points]
    run = content.step(step.run_step) if step.run_step else None
    return [*words, f"Collected during “{run.title}”"] if run else words


def _point_line(content: ProcedureContent, key: str) -> str:
    point = next((point for point in content.points if point.key == key), None)
    return f"{point.name}: {describe(point.limit)}" if point else key


def _number(value: Decimal | None) -> str:
    return "" if value is None else f"{value:f}"


ASKS: dict[StepKind, Callable[[Step, ProcedureContent], list[str]]] = {
    StepKind.SET_CONTROL: _control,
    StepKind.READ_VALUE: _read,
    StepKind.TIMED_RUN: _timed,
    StepKind.DUTY_RUN: _duty,
    StepKind.OUTLETS: _outlets,
    StepKind.COLLECT: _collect,
}
