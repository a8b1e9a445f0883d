"""Judge readings against a limit, exactly. Pure.

Limits are inclusive. Readings are compared unrounded, as fractions in the limit's unit, unless the limit
states a rounding method. A missing reading never hides a failing one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from fleet.quantities import Dimension, Quantity, convert, parse_quantity, refused, require_dimension, unit_of
from records.judge.terms import Amount, Measured, Outcome, Reading, Verdict, shown
from records.judge.uncertainty import SIMPLE, DecisionRule, RuleKind, require_band_fits, rule_from_data
from scheduling.limits.kinds import (
    AllYesLimit,
    Basis,
    Bounds,
    IntervalLimit,
    Limit,
    PairLimit,
    RatioLimit,
    describe,
    limit_from_data,
)
from scheduling.limits.rounding import RoundingMethod, as_compared, places_of


def judge(
    readings: Reading | Sequence[Reading],
    limit: Limit,
    *,
    decision_rule: DecisionRule = SIMPLE,
    field: str = "reading",
) -> Verdict:
    """The verdict on one or more readings: 1349.6 mL against at least 1350 mL is FAIL with margin −2/5 mL.

    Interval limits judge every reading and answer for the worst; a pair takes two readings, a ratio two or
    more, all-yes takes booleans. None is a missing reading. Raises RefusedInput for what cannot be judged: a
    wrong dimension, a negative amount, too many readings, or a guard band the limit does not allow.
    """
    given = _as_list(readings)
    match limit:
        case AllYesLimit():
            _refuse_guard(decision_rule, "answers")
            return _judge_answers(given, limit, field)
        case PairLimit():
            return _judge_pair(_measured(given, limit.unit, field), limit, decision_rule, field)
        case RatioLimit():
            _refuse_guard(decision_rule, "ratios")
            return _judge_ratio(_measured(given, limit.unit, field), limit)
        case _:
            return _judge_interval(_measured(given, limit.unit, field), limit, decision_rule)


def judge_written(readings: object, limit: object, *, decision_rule: object = None) -> Verdict:
    """The same from JSON: `judge_written([{"value": "1350", "unit": "mL"}], {"kind": "minimum", …})`."""
    rule = rule_from_data(decision_rule)
    return judge(readings_from_data(readings), limit_from_data(limit), decision_rule=rule)


def readings_from_data(data: object, *, where: str = "readings") -> tuple[Reading, ...]:
    """Readings as written: objects with value and unit, booleans, or null for a missing one."""
    if not isinstance(data, list | tuple):
        raise refused("bad_reading", where, data, "is not a list", 'send [{"value": "1350", "unit": "mL"}]')
    return tuple(_reading_from_data(each, f"{where}.{number}") for number, each in enumerate(data))


def _reading_from_data(data: object, where: str) -> Reading:
    if data is None or isinstance(data, bool):
        return data
    if not isinstance(data, dict) or set(data) != {"value", "unit"} or not isinstance(data["unit"], str):
        detail, remedy = "is not a value with its unit", 'send {"value": "1350", "unit": "mL"}'
        raise refused("bad_reading", where, data, detail, remedy)
    if data["value"] is None or data["value"] == "":
        return None
    return parse_quantity(data["value"], data["unit"], field=where)


# ---------------------------------------------------------------- taking readings in


@dataclass(frozen=True, slots=True)
class _Taken:
    """A reading in the limit's unit, with the words for it as it was written."""

    value: Fraction
    words: str


def _as_list(readings: Reading | Sequence[Reading]) -> list[Reading]:
    if readings is None or isinstance(readings, bool | Quantity | Amount):
        return [readings]
    return list(readings)


def _measured(given: list[Reading], unit: str, field: str) -> list[_Taken | None]:
    return [None if reading is None else _taken(reading, unit, field) for reading in given]


def _taken(reading: Measured | bool, unit: str, field: str) -> _Taken:
    if isinstance(reading, bool):
        remedy = f"write a value in {unit}"
        raise refused("wrong_dimension", field, reading, "is an answer, not a measured value", remedy)
    wanted = unit_of(unit)
    require_dimension(reading.unit, wanted.dimension, field=field)
    base = "K" if wanted.dimension is Dimension.TEMPERATURE else unit
    if reading.in_unit(base) < 0:
        detail = "is below absolute zero" if base == "K" else "is below zero"
        raise refused("negative_reading", field, reading, detail, "check the sign and the instrument")
    value = convert(reading.value, reading.unit, unit)
    same_unit = unit_of(reading.unit) is wanted
    return _Taken(value, str(reading) if same_unit else f"{reading} ({shown(value, unit)})")


# ---------------------------------------------------------------- intervals


def _judge_interval(taken: list[_Taken | None], limit: IntervalLimit, rule: DecisionRule) -> Verdict:
    bounds = limit.bounds()
    width = None if bounds.low is None or bounds.high is None else bounds.high - bounds.low
    band = require_band_fits(rule, limit.unit, width)
    _refuse_guard_with_rounding(rule, limit.rounding)
    present = [each for each in taken if each is not None]
    judged = [_against_bounds(each, bounds, limit, (rule.kind, band)) for each in present]
    worst = min(judged, key=lambda verdict: verdict.margin or Fraction(0), default=None)
    return _unless_missing(worst, missing=len(taken) - len(present), asked=len(taken))


def _against_bounds(
    taken: _Taken, bounds: Bounds, limit: IntervalLimit, guard: tuple[RuleKind, Fraction]
) -> Verdict:
    value = as_compared(taken.value, limit.rounding, bounds.places)
    sides = []
    if bounds.low is not None:
        sides.append((value - bounds.low, "low", bounds.low))
    if bounds.high is not None:
        sides.append((bounds.high - value, "high", bounds.high))
    margin, nearest, edge = min(sides, key=lambda side: side[0])
    words = taken.words if value == taken.value else f"{taken.words}, compared as {shown(value, limit.unit)},"
    reason = f"{words} {_where(margin, nearest, edge, limit.unit)}"
    return _decided(
        margin, guard, Verdict(Outcome.PASS, reason, limit.unit, value, margin, None, nearest, edge)
    )


def _where(margin: Fraction, nearest: str, edge: Fraction, unit: str) -> str:
    limit_words = f"{'lower' if nearest == 'low' else 'upper'} limit of {shown(edge, unit)}"
    if margin == 0:
        return f"is exactly at the {limit_words}, which is allowed"
    above = (nearest == "low") == (margin > 0)
    return f"is {shown(abs(margin), unit)} {'above' if above else 'below'} the {limit_words}"


def _decided(margin: Fraction, guard: tuple[RuleKind, Fraction], draft: Verdict) -> Verdict:
    kind, band = guard
    outcome = _outcome_of(margin, kind, band)
    reason = draft.reason
    if kind is not RuleKind.SIMPLE:
        reason = f"{reason} (guard band {shown(abs(band), draft.unit)})"
    return Verdict(
        outcome,
        reason,
        draft.unit,
        draft.value,
        margin,
        margin - band,
        draft.nearest,
        draft.nearest_limit,
    )


def _outcome_of(margin: Fraction, kind: RuleKind, band: Fraction) -> Outcome:
    if margin >= band:
        return Outcome.PASS
    if kind is not RuleKind.GUARDED_FOUR:
        return Outcome.FAIL
    if margin >= 0:
        return Outcome.CONDITIONAL_PASS
    return Outcome.CONDITIONAL_FAIL if margin >= -band else Outcome.FAIL


def _unless_missing(worst: Verdict | None, *, missing: int, asked: int) -> Verdict:
    if worst is None:
        return Verdict(Outcome.INCOMPLETE, "no reading yet")
    if missing and worst.outcome not in (Outcome.FAIL, Outcome.CONDITIONAL_FAIL):
        return Verdict(Outcome.INCOMPLETE, f"{missing} of {asked} readings missing", worst.unit)
    return worst


# ---------------------------------------------------------------- pairs and ratios


def _judge_pair(taken: list[_Taken | None], limit: PairLimit, rule: DecisionRule, field: str) -> Verdict:
    if len(taken) > 2:
        detail = "are more than a pair"
        raise refused("too_many_readings", field, len(taken), detail, "give exactly two readings")
    if limit.basis is not Basis.ABSOLUTE:
        _refuse_guard(rule, "percentages of a pair")
    _refuse_guard_with_rounding(rule, limit.rounding)
    band = require_band_fits(rule, limit.unit, None)
    present = [each for each in taken if each is not None]
    if len(present) < 2:
        return Verdict(Outcome.INCOMPLETE, f"{2 - len(present)} of 2 readings missing", limit.unit)
    first, second = present
    if limit.basis is not Basis.ABSOLUTE and first.value == second.value == 0:
        return Verdict(
            Outcome.INVALID, "both readings are zero: a percentage of nothing says nothing", limit.unit
        )
    apart = as_compared(abs(first.value - second.value), limit.rounding, places_of(limit.maximum))
    allowed = _allowed_apart(limit, first.value, second.value)
    is_apart = f"{first.words} and {second.words} are {shown(apart, limit.unit)} apart"
    reason = f"{is_apart}, {shown(allowed, limit.unit)} allowed: {describe(limit)}"
    draft = Verdict(Outcome.PASS, reason, limit.unit, apart, None, None, "high", allowed)
    return _decided(allowed - apart, (rule.kind, band), draft)


def _allowed_apart(limit: PairLimit, first: Fraction, second: Fraction) -> Fraction:
    maximum = Fraction(limit.maximum)
    match limit.basis:
        case Basis.ABSOLUTE:
            return maximum
        case Basis.OF_LARGER:
            return maximum * max(first, second) / 100
        case Basis.OF_SMALLER:
            return maximum * min(first, second) / 100
        case Basis.OF_MEAN:
            return maximum * (first + second) / 200
        case Basis.OF_NOMINAL:
            return maximum * Fraction(limit.nominal or 0) / 100


def _judge_ratio(taken: list[_Taken | None], limit: RatioLimit) -> Verdict:
    present = [each.value for each in taken if each is not None]
    if len(taken) < 2 or len(present) < len(taken):
        missing = max(2, len(taken)) - len(present)
        return Verdict(Outcome.INCOMPLETE, f"{missing} of {max(2, len(taken))} readings missing")
    smallest, largest = min(present), max(present)
    if largest == 0:
        return Verdict(Outcome.INVALID, "all readings are zero: their ratio says nothing")
    ratio = smallest / largest
    margin = ratio - Fraction(limit.minimum)
    outcome = Outcome.PASS if margin >= 0 else Outcome.FAIL
    pieces = f"{shown(smallest, limit.unit)} divided by {shown(largest, limit.unit)} is {shown(ratio, '1')}"
    reason = f"{pieces}; allowed: {describe(limit)}"
    return Verdict(outcome, reason, "1", ratio, margin, margin, "low", Fraction(limit.minimum))


# ---------------------------------------------------------------- answers


def _judge_answers(given: list[Reading], limit: AllYesLimit, field: str) -> Verdict:
    if len(given) > limit.expected:
        detail = f"are more than the {limit.expected} asked for"
        raise refused("too_many_readings", field, len(given), detail, "answer each question once")
    for answer in given:
        if answer is not None and not isinstance(answer, bool):
            raise refused("wrong_dimension", field, answer, "is a value, not an answer", "answer yes or no")
    no, yes = given.count(False), given.count(True)
    if no:
        return Verdict(Outcome.FAIL, f"{no} of {limit.expected} answered no")
    if yes < limit.expected:
        return Verdict(Outcome.INCOMPLETE, f"{limit.expected - yes} of {limit.expected} not answered yet")
    return Verdict(Outcome.PASS, "answered yes" if yes == 1 else f"all {yes} answered yes")


# ---------------------------------------------------------------- what does not go together


def _refuse_guard(rule: DecisionRule, what: str) -> None:
    if rule.kind is not RuleKind.SIMPLE:
        detail = f"is not offered for {what}"
        raise refused("bad_decision_rule", "decision_rule", rule.kind, detail, "use simple acceptance")


def _refuse_guard_with_rounding(rule: DecisionRule, method: RoundingMethod) -> None:
    if rule.kind is not RuleKind.SIMPLE and method is not RoundingMethod.UNROUNDED:
        detail = "does not go together with a rounding method"
        raise refused("bad_decision_rule", "decision_rule", rule.kind, detail, "choose one of the two")
