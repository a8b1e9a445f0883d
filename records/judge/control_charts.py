"""Control chart tables that can be followed by hand: individuals, run rules, EWMA, CUSUM. Pure.

Formulas and worked figures: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2. These are for
reading and checking a series; an aircraft's alarm comes from the trend, whose baseline carries its own
uncertainty.
"""

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.spread import MEAN_RANGE_OF_TWO
from records.judge.worded import Worded, counted, finite, positive

RANGE_LIMIT = 3.267
"""Upper limit of a moving range of two, in mean moving ranges (constant D4)."""


@dataclass(frozen=True, slots=True)
class IndividualsChart(Worded):
    """Centre, mean moving range, three-sigma limits, and the numbers (from 1) of points outside them."""

    centre: float
    mean_range: float
    upper: float
    lower: float
    range_upper: float
    outside: tuple[int, ...]

    @property
    def words(self) -> str:
        """In control or not, with the limits."""
        limits = f"limits {self.lower:.2f} and {self.upper:.2f} around {self.centre:.2f}"
        if not self.outside:
            return f"Every point is inside its limits ({limits})."
        return f"Outside the limits: point {', '.join(map(str, self.outside))} ({limits})."


def individuals_chart(values: Sequence[float]) -> IndividualsChart:
    """Mean plus and minus three mean moving ranges over 1.128; needs two or more values.

    >>> chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.centre, 2), round(chart.upper, 4), round(chart.lower, 4)
    (50.81, 55.8041, 45.8159)
    """
    if len(values) < 2:
        raise refused("too_few_values", "values", len(values), "shows no spread", "give two or more")
    centre = math.fsum(finite("value", value) for value in values) / len(values)
    mean_range = statistics.fmean(abs(later - value) for value, later in itertools.pairwise(values))
    reach = 3 * mean_range / MEAN_RANGE_OF_TWO
    upper, lower = centre + reach, centre - reach
    outside = tuple(number for number, value in enumerate(values, 1) if not lower <= value <= upper)
    return IndividualsChart(centre, mean_range, upper, lower, RANGE_LIMIT * mean_range, outside)


@dataclass(frozen=True, slots=True)
class RunSignal:
    """A run rule met at point `number` (from 1); `rule` says which in words."""

    number: int
    rule: str


_RUN_RULES = (
    ("one point beyond three sigma", 1, 1, 3.0),
    ("two of three points beyond two sigma on one side", 2, 3, 2.0),
    ("four of five points beyond one sigma on one side", 4, 5, 1.0),
    ("eight points in a row on one side", 8, 8, 0.0),
)


def run_signals(values: Sequence[float], centre: float, sigma: float) -> tuple[RunSignal, ...]:
    """The four Western Electric rules at every point; all four together signal falsely about every 92 points.

    >>> run_signals([0.0, 2.5, 0.0, 2.5], 0.0, 1.0)
    (RunSignal(number=4, rule='two of three points beyond two sigma on one side'),)
    """
    scores = [(finite("value", value) - centre) / positive("sigma", sigma) for value in values]
    return tuple(
        RunSignal(end, rule)
        for end in range(1, len(scores) + 1)
        for rule, needed, window, beyond in _RUN_RULES
        if end >= needed and _is_met(scores[max(0, end - window) : end], needed, beyond)
    )


def _is_met(window: Sequence[float], needed: int, beyond: float) -> bool:
    """The newest point must be one of those that count, or an old run would be told again."""
    return any(
        sign * window[-1] > beyond and sum(sign * score > beyond for score in window) >= needed
        for sign in (1, -1)
    )


@dataclass(frozen=True, slots=True)
class EwmaChart(Worded):
    """The weighted averages, the limits they settle to, and the numbers (from 1) outside them."""

    averages: tuple[float, ...]
    upper: float
    lower: float
    outside: tuple[int, ...]

    @property
    def words(self) -> str:
        """Signal or none, with the limits."""
        limits = f"limits {self.lower:.2f} and {self.upper:.2f}"
        if not self.outside:
            return f"The weighted average stays inside its limits ({limits})."
        return f"The weighted average leaves its limits at point {self.outside[0]} ({limits})."


def ewma_chart(
    values: Sequence[float], centre: float, sigma: float, weight: float, reach: float = 3.0
) -> EwmaChart:
    """Average e = weight y + (1 - weight) e, started at the centre; limits centre +- reach sigma
    sqrt(w/(2-w)).

    >>> [round(average, 2) for average in ewma_chart([52.0, 47.0], 50.0, 2.0539, 0.3).averages]
    [50.6, 49.52]
    """
    if not 0 < weight <= 1:
        raise refused("weight_out_of_range", "weight", weight, "is no share", "use above 0, at most 1")
    averages = list(
        itertools.accumulate(
            (finite("value", value) for value in values),
            lambda average, value: weight * value + (1 - weight) * average,
            initial=centre,
        )
    )[1:]
    distance = reach * positive("sigma", sigma) * math.sqrt(weight / (2 - weight))
    upper, lower = centre + distance, centre - distance
    outside = tuple(number for number, average in enumerate(averages, 1) if not lower <= average <= upper)
    return EwmaChart(tuple(averages), upper, lower, outside)


@dataclass(frozen=True, slots=True)
class CusumTable(Worded):
    """Upper and lower cumulative sums, and the number (from 1) of the first point where either passes h."""

    high: tuple[float, ...]
    low: tuple[float, ...]
    first_signal: int | None

    @property
    def words(self) -> str:
        """Signal or none."""
        if self.first_signal is None:
            return f"No shift: neither cumulative sum passes its limit in {counted(len(self.high), 'point')}."
        return f"Shift signalled at point {self.first_signal}."


def cusum_table(values: Sequence[float], target: float, allowance: float, limit: float) -> CusumTable:
    """Tabular CUSUM: high = max(0, high + y - target - k), low = max(0, low + target - k - y), signal above
    h.

    >>> cusum_table([0.0, 2.0, 2.0], 0.0, 0.5, 2.5).high
    (0.0, 1.5, 3.0)
    """
    highs, lows = [0.0], [0.0]
    for value in values:
        away = finite("value", value) - target
        highs.append(max(0.0, highs[-1] + away - allowance))
        lows.append(max(0.0, lows[-1] - away - allowance))
    signals = (n for n, sums in enumerate(zip(highs, lows, strict=True)) if max(sums) > limit)
    return CusumTable(tuple(highs[1:]), tuple(lows[1:]), next(signals, None))
