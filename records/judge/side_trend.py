"""The two channels of an aircraft with a left and a right side: flow of both together, and their balance.
Pure.

S = 100 (L + R)/(L0 + R0) falls where the pump or anything common to both sides weakens; D = 100
ln((L/R)/(L0/R0)) moves where one side clogs, whatever the pump does. L0 and R0 are the sides' baseline
means. With equal, independent repeatability sigma per side, S spreads by sigma/sqrt(2) and D by sigma
sqrt(2).
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.series import Observation, Segment, SidePair
from records.judge.trend import judge_trend
from records.judge.trend_terms import (
    BOTH_SIDES_TOGETHER,
    LEFT_AGAINST_RIGHT,
    ChartPoint,
    TrendState,
    TrendVerdict,
)
from records.judge.worded import Worded

_LEAST_SHARE = 0.01
"""A side below 1 % of its baseline is taken as 1 %: a dry side has no logarithm, and is in alarm anyway."""


@dataclass(frozen=True, slots=True)
class SideBaseline:
    """Mean flow of each side over so many baseline tests, in per cent of nominal."""

    left: float
    right: float
    tests: int

    def __post_init__(self) -> None:
        for field, value in (("left", self.left), ("right", self.right)):
            if not (math.isfinite(value) and value > 0):
                detail = "is no baseline to compare with"
                raise refused("no_baseline", field, value, detail, "start a new baseline with good tests")
        if self.tests < 1:
            raise refused(
                "no_baseline", "tests", self.tests, "must be one or more", "give the count of tests"
            )


@dataclass(frozen=True, slots=True)
class AircraftTrend(Worded):
    """Both channels of one aircraft; `together` watches S, `balance` watches D."""

    together: TrendVerdict
    balance: TrendVerdict
    baseline: SideBaseline | None

    @property
    def state(self) -> TrendState:
        """The state of the channel whose alarm came first; S before D on the same day."""
        alarm = self.alarm
        return self.together.state if alarm is None else alarm.signal

    @property
    def alarm(self) -> ChartPoint | None:
        """The first alarm of either channel."""
        alarms = [verdict.alarm for verdict in (self.together, self.balance) if verdict.alarm is not None]
        return min(alarms, key=lambda point: point.number, default=None)

    @property
    def words(self) -> str:
        """Both channels, those in alarm first."""
        ordered = sorted((self.together, self.balance), key=lambda verdict: not verdict.in_alarm)
        return " ".join(verdict.words for verdict in ordered)


def side_baseline(pairs: Sequence[SidePair], tests: int = BOTH_SIDES_TOGETHER.baseline_tests) -> SideBaseline:
    """Mean of the first valid pairs of a segment; refuses fewer than asked for and a side that gives nothing.

    >>> from datetime import date
    >>> side_baseline([SidePair(date(2026, 1, 1), 99.0, 101.0)] * 6)
    SideBaseline(left=99.0, right=101.0, tests=6)
    """
    first = [pair for pair in pairs if pair.valid][:tests]
    if len(first) < tests:
        raise refused("baseline_forming", "pairs", len(first), "is too few valid tests", f"wait for {tests}")
    left = math.fsum(pair.left for pair in first) / tests
    right = math.fsum(pair.right for pair in first) / tests
    return SideBaseline(left, right, tests)


def together_percent(pair: SidePair, baseline: SideBaseline) -> float:
    """S: both sides together in per cent of their baseline.

    >>> from datetime import date
    >>> together_percent(SidePair(date(2026, 1, 1), 90.0, 100.0), SideBaseline(100.0, 100.0, 6))
    95.0
    """
    return 100 * (pair.left + pair.right) / (baseline.left + baseline.right)


def balance_percent(pair: SidePair, baseline: SideBaseline) -> float:
    """D: left against right, in per cent of natural logarithm; negative where the left side has lost.

    >>> from datetime import date
    >>> round(balance_percent(SidePair(date(2026, 1, 1), 90.0, 100.0), SideBaseline(100.0, 100.0, 6)), 3)
    -10.536
    """
    left = max(pair.left / baseline.left, _LEAST_SHARE)
    right = max(pair.right / baseline.right, _LEAST_SHARE)
    return 100 * math.log(left / right)


def judge_sides(
    segment: Segment[SidePair], sigma: float, dismissed: Collection[str] = frozenset()
) -> AircraftTrend:
    """Judge both channels of one segment; `sigma` is the repeatability of one test of one side, in per cent.

    >>> from datetime import date
    >>> base = tuple(SidePair(date(2026, 1, day), 100.0, 100.0) for day in range(1, 7))
    >>> judge_sides(Segment((*base, SidePair(date(2026, 2, 1), 88.0, 110.0))), 1.5).balance.state.value
    'alarm_low'
    """
    ready = len(segment.valid) >= BOTH_SIDES_TOGETHER.baseline_tests
    baseline = side_baseline(segment.valid) if ready else None
    together, balance = [], []
    for pair in segment.observations:
        s, d = (together_percent(pair, baseline), balance_percent(pair, baseline)) if baseline else (0.0, 0.0)
        together.append(Observation(pair.day, s, pair.valid, pair.reference))
        balance.append(Observation(pair.day, d, pair.valid, pair.reference))
    return AircraftTrend(
        judge_trend(_like(segment, together), sigma / math.sqrt(2), BOTH_SIDES_TOGETHER, dismissed),
        judge_trend(_like(segment, balance), sigma * math.sqrt(2), LEFT_AGAINST_RIGHT, dismissed),
        baseline,
    )


def _like(segment: Segment[SidePair], observations: list[Observation]) -> Segment[Observation]:
    return Segment(tuple(observations), segment.start, segment.reason)
