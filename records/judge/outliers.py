"""A value that stands apart from its fellows is flagged for a look, and never left out. Pure.

Grubbs' test for one outlier, as the NIST/SEMATECH e-Handbook 1.3.5.17.1 gives it.
"""

import math
import statistics
from collections.abc import Sequence

from records.judge.distributions import student_quantile

_LEAST_VALUES = 3


def grubbs_score(values: Sequence[float]) -> float:
    """Largest distance from the mean in sample standard deviations; 0 where all values are equal.

    >>> round(grubbs_score([1.0, 1.0, 4.0]), 4)
    1.1547
    """
    spread = statistics.stdev(values)
    if spread == 0:
        return 0.0
    mean = statistics.fmean(values)
    return max(abs(value - mean) for value in values) / spread


def grubbs_limit(count: int, *, risk: float = 0.05, one_sided: bool = False) -> float:
    """The score that a set without outliers exceeds with this risk.

    >>> round(grubbs_limit(8, one_sided=True), 3)
    2.032
    """
    t = student_quantile(risk / count if one_sided else risk / (2 * count), count - 2)
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def outlying(values: Sequence[float], *, risk: float = 0.05) -> int | None:
    """Position of the one value that stands apart on either side, or None.

    >>> outlying([100.0, 100.5, 99.5, 100.2, 99.8, 85.0])
    5
    """
    if len(values) < _LEAST_VALUES or grubbs_score(values) <= grubbs_limit(len(values), risk=risk):
        return None
    mean = statistics.fmean(values)
    return max(range(len(values)), key=lambda position: abs(values[position] - mean))
