"""A straight line by ordinary least squares, for comparison beside the forecast. Pure.

Times are centred before fitting. A line through flat and falling tests together promises too much time, so
its crossing is never a headline.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.worded import finite

_LEAST_POINTS = 3


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope x with standard errors, residual standard deviation and R squared."""

    intercept: float
    slope: float
    intercept_error: float
    slope_error: float
    residual_deviation: float
    r_squared: float

    def reaches(self, level: float) -> float | None:
        """Where the line takes this value; None for a level line.

        Worked: 50, 49, 48, 47 at 0, 100, 200, 300 hours reach 45 at 500 hours.
        """
        return None if self.slope == 0 else (level - self.intercept) / self.slope


def straight_line(times: Sequence[float], values: Sequence[float]) -> Line:
    """Fit a line to three or more points at different times.

    >>> straight_line([0, 100, 200, 300], [50, 49, 48, 47]).slope
    -0.01
    """
    count = len(values)
    if count != len(times) or count < _LEAST_POINTS:
        raise refused("too_few_points", "values", count, "cannot fix a line", "give three or more pairs")
    mean_time = math.fsum(finite("time", time) for time in times) / count
    mean_value = math.fsum(finite("value", value) for value in values) / count
    away = [time - mean_time for time in times]
    spread = math.fsum(distance * distance for distance in away)
    if spread == 0:
        raise refused("one_time", "times", times[0], "is the only time", "give tests of different days")
    rise = math.fsum(d * (value - mean_value) for d, value in zip(away, values, strict=True))
    slope = rise / spread
    left = math.fsum((value - mean_value - slope * d) ** 2 for d, value in zip(away, values, strict=True))
    total = math.fsum((value - mean_value) ** 2 for value in values)
    deviation = math.sqrt(left / (count - 2))
    return Line(
        intercept=mean_value - slope * mean_time,
        slope=slope,
        intercept_error=deviation * math.sqrt(1 / count + mean_time * mean_time / spread),
        slope_error=deviation / math.sqrt(spread),
        residual_deviation=deviation,
        r_squared=1.0 if total == 0 else 1 - left / total,
    )
