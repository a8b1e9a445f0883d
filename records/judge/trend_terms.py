"""The words of a trend: states, settings, charted points and the verdict on one channel. Pure."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from fleet.quantities import refused
from records.judge.worded import Worded, counted, day_in_words, positive

LEAST_BASELINE_TESTS = 4


class TrendState(StrEnum):
    """What can be said of a channel."""

    BASELINE_FORMING = "baseline_forming"
    IN_CONTROL = "in_control"
    ALARM_LOW = "alarm_low"
    ALARM_HIGH = "alarm_high"


class Watch(StrEnum):
    """Which departures matter: a flow only when it falls, a balance of two sides either way."""

    LOW = "low"
    BOTH = "both"


class Rule(StrEnum):
    """What raised an alarm."""

    SINGLE_READING = "single_reading"
    AVERAGE = "average"
    BOTH = "both"


@dataclass(frozen=True, slots=True)
class TrendSettings:
    """How one channel is watched: limits in standard deviations, tests in the baseline, weight of the
    newest test.
    """

    channel: str
    average_limit: float
    single_limit: float
    watch: Watch
    low_means: str = "low"
    high_means: str = "high"
    baseline_tests: int = 6
    weight: float = 0.2

    def __post_init__(self) -> None:
        positive("average_limit", self.average_limit)
        positive("single_limit", self.single_limit)
        if self.baseline_tests < LEAST_BASELINE_TESTS:
            raise refused(
                "baseline_too_short",
                "baseline_tests",
                self.baseline_tests,
                "is too few tests to compare with",
                f"use {LEAST_BASELINE_TESTS} or more",
            )
        if not 0 < self.weight <= 1:
            raise refused(
                "weight_out_of_range", "weight", self.weight, "is no share", "use above 0, at most 1"
            )


ONE_CHANNEL = TrendSettings("flow", 2.75, 3.0, Watch.LOW)
"""One series on its own: about 5 % chance of a false alarm in 24 tests after the baseline."""
BOTH_SIDES_TOGETHER = TrendSettings("both sides together", 3.0, 3.3, Watch.LOW)
LEFT_AGAINST_RIGHT = TrendSettings(
    "left against right", 3.0, 3.3, Watch.BOTH, "left low against right", "right low against left"
)
"""With the one before, the two channels of an aircraft: about 7 % in 24 tests for both taken together."""


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One test after the baseline, in per cent as charted and in standard deviations as judged.

    `average` and its two limits share the unit of `value`; a limit that is not watched is None.
    """

    number: int
    day: date
    reference: str
    value: float
    average: float
    average_low: float
    average_high: float | None
    single_score: float
    average_score: float
    signal: TrendState
    rule: Rule | None

    @property
    def is_alarm(self) -> bool:
        """True where this test passes a limit."""
        return self.signal is not TrendState.IN_CONTROL


@dataclass(frozen=True, slots=True)
class TrendVerdict(Worded):
    """The state of one channel since its last configuration event, every point, and the alarm that stands.

    `baseline`, `single_low`, `single_high` are None while the baseline forms; `suspects` names baseline
    tests that stand far apart from the others (flagged, never left out).
    """

    settings: TrendSettings
    state: TrendState
    sigma: float
    tests: int
    segment_start: date | None
    segment_reason: str | None
    baseline: float | None = None
    single_low: float | None = None
    single_high: float | None = None
    points: tuple[ChartPoint, ...] = ()
    alarm: ChartPoint | None = None
    suspects: tuple[str, ...] = ()

    @property
    def in_alarm(self) -> bool:
        """True for a low and for a high alarm."""
        return self.alarm is not None

    @property
    def reason(self) -> str:
        """The figures behind the state, in words."""
        if self.baseline is None:
            return f"{self.tests} of {counted(self.settings.baseline_tests, 'valid test')} for the baseline"
        if self.alarm is not None:
            return _alarm_reason(self.alarm, self)
        if not self.points:
            return f"the baseline of {self.baseline:z.1f} % stands; no test after it yet"
        latest = self.points[-1]
        return (
            f"{counted(len(self.points), 'test')} after the baseline of {self.baseline:z.1f} %, the latest "
            f"{latest.value:z.1f} % on {day_in_words(latest.day)}, average {latest.average:z.1f} %"
        )

    @property
    def words(self) -> str:
        """State, reason and what to mind, in plain sentences."""
        said = f"{_headline(self)}: {self.reason}{_since(self)}."
        if self.baseline is None:
            said += " No trend statement before that."
        if self.suspects:
            said += f" Check {', '.join(self.suspects)}: it stands apart from the other baseline tests."
        return said


def _headline(verdict: TrendVerdict) -> str:
    channel = verdict.settings.channel.capitalize()
    if verdict.state is TrendState.BASELINE_FORMING:
        return f"{channel}, baseline forming"
    if verdict.state is TrendState.IN_CONTROL:
        return f"{channel}, no change seen"
    low = verdict.state is TrendState.ALARM_LOW
    return f"{channel}, alarm ({verdict.settings.low_means if low else verdict.settings.high_means})"


def _since(verdict: TrendVerdict) -> str:
    if verdict.segment_start is None:
        return ""
    return f", counted since {verdict.segment_reason} on {day_in_words(verdict.segment_start)}"


def _alarm_reason(alarm: ChartPoint, verdict: TrendVerdict) -> str:
    low = alarm.signal is TrendState.ALARM_LOW
    side = "below" if low else "above"
    test = f"test {alarm.reference}" if alarm.reference else "the test"
    single = verdict.single_low if low else verdict.single_high
    average = alarm.average_low if low else alarm.average_high
    parts = []
    if alarm.rule in (Rule.SINGLE_READING, Rule.BOTH):
        parts.append(f"its reading of {alarm.value:.2f} % is {side} the limit of {single:.2f} %")
    if alarm.rule in (Rule.AVERAGE, Rule.BOTH):
        parts.append(f"the weighted average, {alarm.average:.2f} %, is {side} its limit of {average:.2f} %")
    return (
        f"at {test} of {day_in_words(alarm.day)} {' and '.join(parts)} "
        f"(baseline {verdict.baseline:z.2f} %, repeatability {verdict.sigma:.2f} %)"
    )
