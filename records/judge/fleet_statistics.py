"""One aircraft among its fleet: resistant score, and a mean shrunk towards the fleet's. Pure.

Aircraft of one type differ for good reasons. Compare an aircraft with its own baseline first; these figures
come second.
"""

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.worded import Worded, finite, positive

LEAST_AIRCRAFT = 5
LOW_SCORE = -3.5
_NORMAL_QUARTILE = 0.6745


@dataclass(frozen=True, slots=True)
class FleetStanding(Worded):
    """An aircraft's value against the median of its type; `score` in resistant standard deviations."""

    aircraft: str
    value: float
    median: float
    score: float
    aircraft_count: int

    @property
    def is_low(self) -> bool:
        """True below -3.5."""
        return self.score < LOW_SCORE

    @property
    def words(self) -> str:
        """Where it stands, and that its own baseline comes first."""
        place = "low among its type" if self.is_low else "not unusual among its type"
        return (
            f"{self.aircraft} is {place}: {self.value:.1f} % against a median of {self.median:.1f} % over "
            f"{self.aircraft_count} aircraft, score {self.score:.2f}. Its own baseline comes first."
        )


def fleet_standing(values: Mapping[str, float], pooled_sigma: float) -> tuple[FleetStanding, ...]:
    """Score 0.6745 (x - median)/MAD of each aircraft; the pooled repeatability serves where MAD is 0.

    Refuses fewer than five aircraft of a type.

    >>> standing = fleet_standing({"A": 98, "B": 99, "C": 100, "D": 101, "E": 90}, 1.5)
    >>> round(standing[-1].score, 2), standing[-1].is_low
    (-6.07, True)
    """
    if len(values) < LEAST_AIRCRAFT:
        detail = "is too few aircraft of one type"
        raise refused("too_few_aircraft", "values", len(values), detail, f"wait for {LEAST_AIRCRAFT}")
    median = statistics.median(finite(aircraft, value) for aircraft, value in values.items())
    deviation = statistics.median(abs(value - median) for value in values.values())
    scale = deviation / _NORMAL_QUARTILE if deviation > 0 else positive("pooled_sigma", pooled_sigma)
    return tuple(
        FleetStanding(aircraft, value, median, (value - median) / scale, len(values))
        for aircraft, value in values.items()
    )


@dataclass(frozen=True, slots=True)
class ShrunkMean(Worded):
    """An aircraft's own mean and the one shrunk towards the fleet by how little is known of it."""

    aircraft: str
    own_mean: float
    kept_share: float
    shrunk_mean: float

    @property
    def words(self) -> str:
        """Both means and the share kept."""
        return (
            f"{self.aircraft}: own mean {self.own_mean:.2f} %, shrunk to {self.shrunk_mean:.2f} % "
            f"({100 * self.kept_share:.0f} % of its distance from the fleet kept)."
        )


@dataclass(frozen=True, slots=True)
class FleetLevel(Worded):
    """The fleet's mean with its standard error, the variance between aircraft, and each aircraft's shrunk
    mean.
    """

    mean: float
    mean_error: float
    between_variance: float
    aircraft: tuple[ShrunkMean, ...]

    @property
    def words(self) -> str:
        """The level of the type and how much its aircraft differ."""
        return (
            f"Mean of the type {self.mean:.2f} % (standard error {self.mean_error:.2f}), aircraft differ by "
            f"{math.sqrt(self.between_variance):.2f} % (standard deviation)."
        )


def pooled_variance(groups: Sequence[Sequence[float]]) -> float:
    """Variance inside groups, pooled by degrees of freedom; refuses where no group has two values.

    >>> pooled_variance([[10000001, 10000003, 10000002], [5.0]])
    1.0
    """
    several = [group for group in groups if len(group) > 1]
    if not several:
        raise refused(
            "no_repeats", "groups", len(groups), "hold no repeated tests", "give two for one aircraft"
        )
    degrees = sum(len(group) - 1 for group in several)
    return math.fsum(statistics.variance(group) * (len(group) - 1) for group in several) / degrees


def shrunk_means(estimates: Mapping[str, float], variances: Mapping[str, float]) -> FleetLevel:
    """Empirical Bayes: kept share B = tau2/(tau2 + v_i), tau2 by DerSimonian and Laird, never below 0.

    `estimates` are the aircraft's means, `variances` their squared standard errors (pooled variance / tests).
    Worked: tau2 11.99, v 0.599 and a fleet mean of 98.185 turn 103.0 into 102.77.
    """
    names = list(estimates)
    if len(names) < 2 or set(names) != set(variances):
        raise refused(
            "aircraft_differ", "variances", sorted(variances), "do not match", "give both for two or more"
        )
    means = [finite(name, estimates[name]) for name in names]
    errors = [positive(name, variances[name]) for name in names]
    between = _between_variance(means, errors)
    weights = [1 / (between + error) for error in errors]
    level = _weighted_mean(means, weights)
    shrunk = tuple(shrunk_mean(*each, level, between) for each in zip(names, means, errors, strict=True))
    return FleetLevel(level, 1 / math.sqrt(math.fsum(weights)), between, shrunk)


def shrunk_mean(aircraft: str, mean: float, variance: float, level: float, between: float) -> ShrunkMean:
    """One aircraft's mean pulled towards the fleet level by how uncertain it is.

    >>> round(shrunk_mean("A", 103.0, 0.774**2, 98.185, 11.99).shrunk_mean, 2)
    102.77
    """
    kept = between / (between + variance)
    return ShrunkMean(aircraft, mean, kept, level + kept * (mean - level))


def _between_variance(means: Sequence[float], errors: Sequence[float]) -> float:
    weights = [1 / error for error in errors]
    level = _weighted_mean(means, weights)
    scatter = math.fsum(w * (mean - level) ** 2 for w, mean in zip(weights, means, strict=True))
    total = math.fsum(weights)
    scale = total - math.fsum(w * w for w in weights) / total
    return max(0.0, (scatter - (len(means) - 1)) / scale)


def _weighted_mean(means: Sequence[float], weights: Sequence[float]) -> float:
    return math.fsum(w * mean for w, mean in zip(weights, means, strict=True)) / math.fsum(weights)
