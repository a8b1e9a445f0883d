"""Mean time between unscheduled removals with exact bounds. Pure.

A removal is counted whatever its cause; it is no failure before the shop confirms one.
"""

from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.distributions import poisson_mean
from records.judge.worded import Worded, counted, positive


@dataclass(frozen=True, slots=True)
class RemovalRate(Worded):
    """Unit hours per removal; `mean` and `upper` are None without a removal, `lower` is then one-sided."""

    unit_hours: float
    removals: int
    confidence: float
    mean: float | None
    lower: float
    upper: float | None

    @property
    def words(self) -> str:
        """Estimate and bounds in whole hours."""
        seen = f"{counted(self.removals, 'removal')} in {self.unit_hours:.0f} unit hours"
        sure = f"{100 * self.confidence:.0f} %"
        if self.mean is None or self.upper is None:
            return f"{seen}: mean time between removals above {self.lower:.0f} h with {sure} confidence."
        return (
            f"{seen}: mean time between removals {self.mean:.0f} h ({sure} interval "
            f"{self.lower:.0f} to {self.upper:.0f} h). Removals, not confirmed failures."
        )


def removal_rate(unit_hours: float, removals: int, confidence: float = 0.90) -> RemovalRate:
    """T/r with exact Poisson bounds [2T/chi2(1-a/2, 2r+2), 2T/chi2(a/2, 2r)]; without a removal only
    T/-ln(a).

    >>> rate = removal_rate(1600, 2)
    >>> rate.mean, round(rate.lower), round(rate.upper)
    (800.0, 254, 4502)
    """
    positive("unit_hours", unit_hours)
    if removals < 0:
        raise refused("negative", "removals", removals, "cannot be negative", "give 0 or more")
    if not 0 < confidence < 1:
        raise refused("no_confidence", "confidence", confidence, "is no share", "use between 0 and 1")
    risk = 1 - confidence
    if removals == 0:
        return RemovalRate(unit_hours, 0, confidence, None, unit_hours / poisson_mean(0, risk), None)
    lower = unit_hours / poisson_mean(removals, risk / 2)
    upper = unit_hours / poisson_mean(removals - 1, 1 - risk / 2)
    return RemovalRate(unit_hours, removals, confidence, unit_hours / removals, lower, upper)
