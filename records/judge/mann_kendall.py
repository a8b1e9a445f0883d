"""Mann-Kendall test and Theil-Sen slope: a robust cross-check beside the trend, never an alarm of its own.
Pure.

On the very data that raised an alarm the test tells nothing new; two tests later it does.
"""

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.series import Observation, Segment
from records.judge.worded import Worded, counted, finite

DAYS_PER_MONTH = 365.25 / 12
LEAST_TESTS = 4
"""With three tests no result can be significant: the smallest one-sided p is 1/6."""
EXACT_UP_TO = 10
TESTS_AFTER_ALARM = 2
_SIGNIFICANT = 0.05


@dataclass(frozen=True, slots=True)
class Tendency(Worded):
    """Mann-Kendall S, its tie-corrected variance, Z, two-sided p values, and the Theil-Sen line.

    `p_value` is the exact one up to ten tests without ties, else the normal approximation `p_normal`; slope
    and intercept are None where all times are equal; slope is per unit of time given (days for tests).
    """

    tests: int
    s: int
    variance: float
    z: float
    p_normal: float
    p_value: float
    is_exact: bool
    slope: float | None
    intercept: float | None

    @property
    def is_significant(self) -> bool:
        """p below 0.05 with at least four tests."""
        return self.tests >= LEAST_TESTS and self.p_value < _SIGNIFICANT

    @property
    def is_falling(self) -> bool:
        """Significant, and downwards."""
        return self.is_significant and self.s < 0

    @property
    def words(self) -> str:
        """Direction, p value and slope per month."""
        if self.tests < LEAST_TESTS:
            return f"Mann-Kendall: {counted(self.tests, 'test')}, too few to say anything."
        tendency = ("falling" if self.s < 0 else "rising") if self.is_significant else "no clear tendency"
        exact = "exact" if self.is_exact else "approximate"
        slope = "" if self.slope is None else f", median slope {self.slope * DAYS_PER_MONTH:+.2f} % per month"
        return f"Mann-Kendall over {self.tests} tests: {tendency} ({exact} p {self.p_value:.3f}){slope}."


def mann_kendall(values: Sequence[float], times: Sequence[float] | None = None) -> Tendency:
    """Test values in order of time for a steady tendency; `times` default to 0, 1, 2, and serve the slope
    only.

    >>> result = mann_kendall([1, 2, 3, 4, 5, 16, 7])
    >>> result.s, round(result.z, 3), result.slope
    (19, 2.703, 1.0)
    """
    moments = list(range(len(values))) if times is None else list(times)
    if len(moments) != len(values):
        raise refused(
            "lengths_differ", "times", len(moments), "is not one per value", "give one time per value"
        )
    if len(values) < 2:
        raise refused("too_few_tests", "values", len(values), "shows no tendency", "give two or more")
    for value, moment in zip(values, moments, strict=True):
        finite("value", value)
        finite("time", moment)
    s = sum(_sign(later - value) for value, later in _pairs(values))
    variance = _variance(values)
    z = 0.0 if variance == 0 else (s - _sign(s)) / math.sqrt(variance)
    p_normal = math.erfc(abs(z) / math.sqrt(2))
    is_exact = len(values) <= EXACT_UP_TO and len(set(values)) == len(values)
    slope = theil_sen_slope(values, moments)
    intercept = None if slope is None else statistics.median(values) - slope * statistics.median(moments)
    p_value = exact_p(len(values), s) if is_exact else p_normal
    return Tendency(len(values), s, variance, z, p_normal, p_value, is_exact, slope, intercept)


def exact_p(count: int, s: int) -> float:
    """Two-sided chance of an S at least this far from zero among all orders of so many different values.

    >>> round(exact_p(5, 6), 3)
    0.233
    """
    ways = [1]
    for size in range(2, count + 1):
        ways = [sum(ways[max(0, k - size + 1) : k + 1]) for k in range(len(ways) + size - 1)]
    most = len(ways) - 1
    extreme = sum(number for inversions, number in enumerate(ways) if abs(most - 2 * inversions) >= abs(s))
    return extreme / math.factorial(count)


def theil_sen_slope(values: Sequence[float], times: Sequence[float]) -> float | None:
    """Median of the slopes of all pairs at different times, or None where there is none.

    >>> theil_sen_slope([1, 2, 3, 4, 5, 16, 7], [1, 2, 3, 4, 5, 6, 7])
    1.0
    """
    slopes = [
        (later - value) / (later_time - time)
        for (value, later), (time, later_time) in zip(_pairs(values), _pairs(times), strict=True)
        if later_time != time
    ]
    return statistics.median(slopes) if slopes else None


def tendency_of(segment: Segment[Observation]) -> Tendency | None:
    """Mann-Kendall over the valid tests of a segment with times in days, or None below two tests.

    Worked: 100, 99, 98, 97 per cent on four days a month apart give S = -6 and about -1 % per month.
    """
    valid = segment.valid
    if len(valid) < 2:
        return None
    first = valid[0].day
    times = [(observation.day - first).days for observation in valid]
    return mann_kendall([observation.value for observation in valid], times)


@dataclass(frozen=True, slots=True)
class CrossCheck(Worded):
    """The cross-check shown beside an alarm; `supports` is None until two tests have followed it."""

    tendency: Tendency
    tests_since_alarm: int
    supports: bool | None

    @property
    def words(self) -> str:
        """The tendency, and what it is worth now."""
        if self.supports is None:
            missing = TESTS_AFTER_ALARM - self.tests_since_alarm
            return (
                f"{self.tendency.words} It can speak on the alarm after {counted(missing, 'further test')}."
            )
        verdict = "supports" if self.supports else "does not support"
        return f"{self.tendency.words} This {verdict} the alarm."


def cross_check(segment: Segment[Observation], alarm: int, *, falling: bool = True) -> CrossCheck | None:
    """The tendency beside an alarm raised by the segment's valid test number `alarm`, counted from 1.

    Worked: alarm at test 9 of 11 valid ones: two tests followed, so a significant fall supports it.
    """
    tendency = tendency_of(segment)
    if tendency is None:
        return None
    since = tendency.tests - alarm
    if since < TESTS_AFTER_ALARM:
        return CrossCheck(tendency, max(since, 0), None)
    agrees = tendency.is_significant and (tendency.s < 0) is falling
    return CrossCheck(tendency, since, agrees)


def _pairs(values: Sequence[float]) -> list[tuple[float, float]]:
    return [(value, later) for i, value in enumerate(values) for later in values[i + 1 :]]


def _sign(value: float) -> int:
    return (value > 0) - (value < 0)


def _variance(values: Sequence[float]) -> float:
    def term(size: int) -> int:
        return size * (size - 1) * (2 * size + 5)

    return (term(len(values)) - sum(term(size) for size in Counter(values).values())) / 18
