"""The few distribution functions the trend room needs, from exact finite sums and bisection. Pure."""

import math
from collections.abc import Callable
from statistics import NormalDist

_HALVINGS = 200


def bisected(rises: Callable[[float], bool], low: float, high: float) -> float:
    """Where `rises` turns from false to true between low and high, to the last bit.

    >>> round(bisected(lambda x: x * x > 2, 0.0, 2.0), 12)
    1.414213562373
    """
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (low, middle) if rises(middle) else (middle, high)
    return (low + high) / 2


def poisson_at_most(count: int, mean: float) -> float:
    """Chance of at most `count` events where `mean` are expected.

    >>> round(poisson_at_most(2, 1.0), 6)
    0.919699
    """
    if mean == 0:
        return 1.0
    log_mean = math.log(mean)
    return min(1.0, math.fsum(math.exp(k * log_mean - mean - math.lgamma(k + 1)) for k in range(count + 1)))


def poisson_mean(count: int, chance: float) -> float:
    """The expected number at which at most `count` events have this chance (half a chi-square quantile).

    >>> round(poisson_mean(0, 0.1), 6)  # -ln(0.1)
    2.302585
    """
    high = count + 10.0
    while poisson_at_most(count, high) > chance:
        high *= 2
    return bisected(lambda mean: poisson_at_most(count, mean) < chance, 0.0, high)


def normal_quantile(chance: float) -> float:
    """The standard normal quantile.

    >>> round(normal_quantile(0.95), 6)
    1.644854
    """
    return NormalDist().inv_cdf(chance)


def student_within(t: float, degrees: int) -> float:
    """Chance that Student's |T| stays below t (finite series in the angle, Abramowitz and Stegun 26.7.3,
    26.7.4).

    >>> round(student_within(12.706204736, 1), 6)
    0.95
    """
    angle = math.atan2(t, math.sqrt(degrees))
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = degrees % 2 == 1
    term, total = (cosine, 0.0) if odd else (1.0, 0.0)
    for power in range(1 if odd else 0, degrees - 1, 2):
        total += term
        term *= cosine * cosine * (power + 1) / (power + 2)
    if odd:
        return 2 / math.pi * (angle + sine * total)
    return sine * total


def student_quantile(upper_tail: float, degrees: int) -> float:
    """The t that Student's T exceeds with this chance (at most one half).

    >>> round(student_quantile(0.025, 10), 6)
    2.228139
    """
    high = 1.0
    while (1 - student_within(high, degrees)) / 2 > upper_tail:
        high *= 2
    return bisected(lambda t: (1 - student_within(t, degrees)) / 2 < upper_tail, 0.0, high)
