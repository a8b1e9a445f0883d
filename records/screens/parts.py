"""The verdict of one part of a run as a page shows it: reading, limit, margin, and where it lies on a scale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from fleet.common.wording import grouped, quantity
from fleet.quantities import unit_of
from records.judge.terms import Outcome, display_decimal
from scheduling.limits.kinds import AllYesLimit, PairLimit, RatioLimit, limit_from_data

LEVELS = {
    Outcome.PASS: "clear",
    Outcome.CONDITIONAL_PASS: "soon",
    Outcome.CONDITIONAL_FAIL: "soon",
    Outcome.INCOMPLETE: "unknown",
    Outcome.INVALID: "stop",
    Outcome.FAIL: "stop",
    Outcome.REFUSED_INPUT: "stop",
}
ROOM = Fraction(2, 5)


@dataclass(frozen=True, slots=True)
class LimitScale:
    """Places in per cent of the width: the allowed stretch, its ends with their words, and the reading."""

    start: str
    width: str
    reading: str
    low: str
    low_words: str
    high: str
    high_words: str


@dataclass(frozen=True, slots=True)
class PartView:
    """One judged part in words."""

    key: str
    label: str
    section: str
    outcome: str
    level: str
    reading: str
    allowed: str
    margin: str
    reason: str
    notes: tuple[str, ...]
    scale: LimitScale | None


def told_apart(parts: Iterable[PartView]) -> tuple[list[PartView], list[PartView]]:
    """What was measured or did not pass, and the plain answers that did."""
    known = list(parts)
    plain = [part for part in known if not part.reading and part.level == "clear"]
    return [part for part in known if part not in plain], plain


def outcome_words(outcome: str) -> str:
    """`outcome_words("conditional_pass")` is "CONDITIONAL PASS"; of nothing, "NO VERDICT"."""
    return outcome.replace("_", " ").upper() or "NO VERDICT"


def level_of(outcome: str) -> str:
    """The level of the mark beside an outcome."""
    return LEVELS.get(Outcome(outcome), "unknown") if outcome else "unknown"


def part_views(parts: Iterable[Mapping[str, Any]]) -> list[PartView]:
    """The stored parts of a verdict as a page shows them."""
    return [part_view(part) for part in parts]


def part_view(part: Mapping[str, Any]) -> PartView:
    """One stored part of a verdict."""
    is_answers = part["limit"].get("kind") == "all_yes"
    value = None if is_answers or part.get("value") is None else Fraction(part["value"])
    return PartView(
        key=part["key"],
        label=part["label"],
        section=part["part"],
        outcome=outcome_words(part["outcome"]),
        level=level_of(part["outcome"]),
        reading=_shown(value, part["unit"]) if value is not None else "",
        allowed=part["allowed"],
        margin="" if is_answers else _margin(part),
        reason=part["reason"],
        notes=tuple(part.get("notes", ())),
        scale=_scale(part, value),
    )


def _shown(value: Fraction, unit: str) -> str:
    return quantity(display_decimal(value), unit_of(unit).label)


def _margin(part: Mapping[str, Any]) -> str:
    margin = part.get("margin")
    if margin is None:
        return ""
    amount = Fraction(margin)
    words = _shown(abs(amount), part["unit"])
    if amount == 0:
        return "exactly on the limit"
    return f"{words} inside" if amount > 0 else f"{words} outside"


def _scale(part: Mapping[str, Any], value: Fraction | None) -> LimitScale | None:
    """Only where the limit is an interval or an absolute difference, and there is a reading to place."""
    if value is None or part["part"] == "duty":
        return None
    limit = limit_from_data(part["limit"])
    if isinstance(limit, AllYesLimit | RatioLimit):
        return None
    if isinstance(limit, PairLimit):
        low, high = Fraction(0), Fraction(limit.maximum)
        shown_low: Fraction | None = None
        shown_high: Fraction | None = high
    else:
        bounds = limit.bounds()
        shown_low, shown_high = bounds.low, bounds.high
        low, high = _ends(bounds.low, bounds.high)
    return _placed((low, high), (shown_low, shown_high), value)


def _ends(low: Fraction | None, high: Fraction | None) -> tuple[Fraction, Fraction]:
    """A stretch to draw where one end is open."""
    if low is None:
        return min(Fraction(0), high or Fraction(0)), high or Fraction(0)
    if high is None:
        return low, low + (abs(low) or Fraction(1)) / 2
    return low, high


def _placed(
    ends: tuple[Fraction, Fraction],
    marks: tuple[Fraction | None, Fraction | None],
    value: Fraction,
) -> LimitScale:
    (low, high), (low_mark, high_mark) = ends, marks
    room = (high - low or abs(high) or Fraction(1)) * ROOM
    first = min(low - (room if low_mark is not None else 0), value)
    last = max(high + room, value)
    whole = last - first

    def place(at: Fraction) -> str:
        return f"{float((at - first) / whole) * 96 + 2:.2f}%"

    begin, end = (low if low_mark is not None else first), (high if high_mark is not None else last)
    return LimitScale(
        start=place(begin),
        width=f"{float((end - begin) / whole) * 96:.2f}%",
        reading=place(value),
        low=place(low_mark) if low_mark is not None else "",
        low_words=grouped(display_decimal(low_mark)) if low_mark is not None else "",
        high=place(high_mark) if high_mark is not None else "",
        high_words=grouped(display_decimal(high_mark)) if high_mark is not None else "",
    )
