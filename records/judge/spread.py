"""Test-to-test repeatability of an aircraft type, pooled over its aircraft.

Six points of one aircraft say next to nothing about their own spread: a chart built on them alarms falsely
in about one aircraft out of five. Moving ranges inside segments are used because a slow drift hardly
touches them. Pure.
"""

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.series import Observation, Segment, SidePair
from records.judge.worded import Worded, counted, finite

MEAN_RANGE_OF_TWO = 1.128
"""Mean of |x2 - x1| in standard deviations (control chart constant d2 for pairs)."""
MEDIAN_RANGE_OF_TWO = 0.9539
"""Median of |x2 - x1| in standard deviations."""
ENOUGH_DEGREES_OF_FREEDOM = 40.0
_DEGREES_PER_RANGE = 0.6


@dataclass(frozen=True, slots=True)
class Spread(Worded):
    """Standard deviation of one test of one side, per cent of nominal, and how well it is known."""

    sigma: float
    moving_ranges: int
    is_floor: bool
    is_resistant: bool

    @property
    def degrees_of_freedom(self) -> float:
        """Overlapping moving ranges carry roughly 0.6 degrees of freedom each."""
        return _DEGREES_PER_RANGE * self.moving_ranges

    @property
    def is_well_known(self) -> bool:
        """False while false alarms may be up to twice as frequent as promised."""
        return self.degrees_of_freedom >= ENOUGH_DEGREES_OF_FREEDOM

    @property
    def words(self) -> str:
        """Where the figure comes from and how far to trust it."""
        source = f"from {counted(self.moving_ranges, 'moving range')} of the type's aircraft"
        if self.is_floor:
            source += ", raised to the uncertainty of the measurement"
        trust = "" if self.is_well_known else " Too few tests yet to rely on it: expect more false alarms."
        return f"Test-to-test repeatability {self.sigma:.2f} % ({source}).{trust}"


def pooled_spread(
    channels: Sequence[Sequence[float]], *, floor: float = 0.0, resistant: bool = False
) -> Spread:
    """Repeatability from the moving ranges inside each channel; `floor` is the measurement's own uncertainty.

    Each channel is the valid readings of one side of one aircraft within one segment, oldest first. With
    `resistant` the median range is taken, for a fleet with outliers.

    >>> round(pooled_spread([[100.0, 101.0, 99.0], [98.0, 98.5]]).sigma, 4)
    1.0343
    """
    ranges = [
        abs(finite("reading", later) - finite("reading", earlier))
        for readings in channels
        for earlier, later in itertools.pairwise(readings)
    ]
    measured = _from_ranges(ranges, resistant=resistant)
    sigma = max(measured, finite("floor", floor))
    if sigma <= 0:
        remedy = "enter the uncertainty of the measurement"
        raise refused("no_spread", "spread", sigma, "no repeatability is known yet", remedy)
    return Spread(sigma, len(ranges), measured < floor, resistant)


def channels_of(segments: Sequence[Segment[Observation]]) -> list[list[float]]:
    """Valid readings per segment, ready for pooling."""
    return [[observation.value for observation in segment.valid] for segment in segments]


def side_channels_of(segments: Sequence[Segment[SidePair]]) -> list[list[float]]:
    """Valid readings of each side per segment, ready for pooling."""
    return [
        readings
        for segment in segments
        for readings in ([pair.left for pair in segment.valid], [pair.right for pair in segment.valid])
    ]


def _from_ranges(ranges: Sequence[float], *, resistant: bool) -> float:
    if not ranges:
        return 0.0
    if resistant:
        return statistics.median(ranges) / MEDIAN_RANGE_OF_TWO
    return math.fsum(ranges) / len(ranges) / MEAN_RANGE_OF_TWO
