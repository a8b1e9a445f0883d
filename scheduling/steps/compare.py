"""Two texts of a procedure side by side: what changed, in words. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields

from scheduling.limits.kinds import describe
from scheduling.steps.describe import KIND_WORDS, condition_words
from scheduling.steps.terms import (
    ALWAYS,
    Condition,
    EquipmentNeed,
    FluidNeed,
    Normalise,
    Point,
    ProcedureContent,
    Step,
    StepKind,
)

Part = Step | Point | EquipmentNeed
LABELS = {
    "max_on_seconds": "longest time on",
    "min_rest_seconds": "shortest rest",
    "longest_seconds": "longest time to wet",
    "tolerance_seconds": "tolerance in seconds",
    "equipment_role": "equipment",
    "side_points": "points per side",
    "run_step": "run it is collected during",
    "of": "compares",
    "when": "applies",
    "normalise": "scaled to",
    "trend": "followed as a trend",
}


def differences(old: ProcedureContent, new: ProcedureContent) -> tuple[str, ...]:
    """What changed from the old text to the new one, one sentence each; nothing where they say the same.

    Example: a limit raised from at least 1000 mL to at least 1200 mL gives
    "Point “Flow, left side”: limit was “at least 1000 mL”, is “at least 1200 mL”."
    """
    found: list[str] = []
    found += _changed("Purpose", old.purpose, new.purpose)
    found += _sentences("Caution", old.cautions, new.cautions)
    found += _parts("Equipment", {n.role: n for n in old.equipment}, {n.role: n for n in new.equipment})
    found += _changed("Fluid", _words(old.fluid), _words(new.fluid))
    found += _parts("Point", {p.key: p for p in old.points}, {p.key: p for p in new.points})
    found += _parts("Step", {s.key: s for s in old.steps}, {s.key: s for s in new.steps})
    found += _order([s.key for s in old.steps], [s.key for s in new.steps])
    found += _changed("Follow-up of a failed test", old.follow_up_on_fail, new.follow_up_on_fail)
    return tuple(found)


def _changed(label: str, old: str, new: str) -> list[str]:
    return [] if old == new else [f"{label} was “{old or 'none'}”, is “{new or 'none'}”."]


def _sentences(label: str, old: Iterable[str], new: Iterable[str]) -> list[str]:
    before, after = list(old), list(new)
    gone = [f"{label} left out: “{words}”." for words in before if words not in after]
    return gone + [f"{label} added: “{words}”." for words in after if words not in before]


def _parts(label: str, old: Mapping[str, Part], new: Mapping[str, Part]) -> list[str]:
    found = [f"{label} left out: “{_name(part)}”." for key, part in old.items() if key not in new]
    for key, part in new.items():
        if key not in old:
            found.append(f"{label} added: “{_name(part)}”.")
        else:
            found += _fields(label, old[key], part)
    return found


def _fields(label: str, old: Part, new: Part) -> list[str]:
    changes = []
    for each in fields(new):
        before, after = _words(getattr(old, each.name)), _words(getattr(new, each.name))
        if before != after:
            name = LABELS.get(each.name, each.name)
            changes.append(f"{name} was “{before or 'none'}”, is “{after or 'none'}”")
    return [f"{label} “{_name(old)}”: {'; '.join(changes)}."] if changes else []


def _order(old: list[str], new: list[str]) -> list[str]:
    common = set(old) & set(new)
    same = [key for key in old if key in common] == [key for key in new if key in common]
    return [] if same else ["The order of the steps changed."]


def _name(part: Part) -> str:
    return part.title if isinstance(part, Step) else part.name


def _words(value: object) -> str:
    """Any value of a part as it is read."""
    match value:
        case None | 0 | "":
            return ""
        case bool():
            return "yes" if value else "no"
        case StepKind():
            return KIND_WORDS[value].lower()
        case str():
            return value
        case Condition():
            return "always" if value == ALWAYS else condition_words(value, {})
        case Normalise():
            return f"{value.seconds:f} s, at most {value.most_percent:f} % off"
        case FluidNeed():
            return f"at least {value.minimum:f} {value.unit}{f', {value.note}' if value.note else ''}"
        case tuple():
            return ", ".join(_words(each) for each in value)
        case _ if hasattr(value, "unit") or hasattr(value, "expected"):
            return describe(value)  # type: ignore[arg-type]
        case _:
            return str(value)
