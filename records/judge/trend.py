"""Has this aircraft's flow left its own baseline? EWMA and single readings on a fixed baseline. Pure.

With b the mean of the first M valid tests of the segment and sigma the type's pooled repeatability, test k
after them gives z = (y - b)/sigma and e_k = w z + (1-w) e_(k-1), e_0 = 0. The average e_k is divided by its
own standard deviation, sqrt(w/(2-w) (1-(1-w)^(2k)) + f^2/M) with f = 1-(1-w)^k, the single reading z by
sqrt(1+1/M); the 1/M terms carry the error of a baseline known from M tests only. An alarm is raised where
either score passes its limit.

Fixed tolerance limits are no business of this module: they are judged first, separately, and always.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from fleet.quantities import refused
from records.judge.outliers import outlying
from records.judge.series import Observation, Segment
from records.judge.trend_terms import (
    ONE_CHANNEL,
    ChartPoint,
    Rule,
    TrendSettings,
    TrendState,
    TrendVerdict,
    Watch,
)
from records.judge.worded import Worded, counted, day_in_words, finite, positive

CONFIRMED_AT = 1.645
"""One-sided 5 % point of the normal distribution."""


def judge_trend(
    segment: Segment[Observation],
    sigma: float,
    settings: TrendSettings = ONE_CHANNEL,
    dismissed: Collection[str] = frozenset(),
) -> TrendVerdict:
    """Judge the tests since the last configuration event; the first alarm stands for the rest of the segment.

    `sigma` is the pooled repeatability of this channel in per cent; `dismissed` holds references of tests
    whose alarm a retest did not confirm: they stay on the chart, their alarm does not stand.

    >>> from datetime import date
    >>> tests = tuple(Observation(date(2026, 1, day), 100.0) for day in range(1, 7))
    >>> judge_trend(Segment((*tests, Observation(date(2026, 2, 1), 90.0))), 1.5).state.value
    'alarm_low'
    """
    start = TrendVerdict(
        settings=settings,
        state=TrendState.BASELINE_FORMING,
        sigma=positive("sigma", sigma),
        tests=len(segment.valid),
        segment_start=segment.start,
        segment_reason=segment.reason,
    )
    if start.tests < settings.baseline_tests:
        return start
    return _with_baseline(start, segment.valid, dismissed)


def _with_baseline(
    start: TrendVerdict, valid: Sequence[Observation], dismissed: Collection[str]
) -> TrendVerdict:
    settings, needed = start.settings, start.settings.baseline_tests
    baseline = math.fsum(observation.value for observation in valid[:needed]) / needed
    points = _points(valid[needed:], baseline, start.sigma, settings)
    alarm = next((point for point in points if point.is_alarm and point.reference not in dismissed), None)
    reach = settings.single_limit * start.sigma * math.sqrt(1 + 1 / needed)
    return replace(
        start,
        state=alarm.signal if alarm else TrendState.IN_CONTROL,
        baseline=baseline,
        single_low=baseline - reach,
        single_high=baseline + reach if settings.watch is Watch.BOTH else None,
        points=points,
        alarm=alarm,
        suspects=_suspects(valid[:needed]),
    )


def _points(
    later: Sequence[Observation], baseline: float, sigma: float, settings: TrendSettings
) -> tuple[ChartPoint, ...]:
    points = []
    average = 0.0
    single_deviation = math.sqrt(1 + 1 / settings.baseline_tests)
    for number, observation in enumerate(later, 1):
        z = (observation.value - baseline) / sigma
        average = settings.weight * z + (1 - settings.weight) * average
        deviation = average_deviation(number, settings)
        signal, rule = _signal(average / deviation, z / single_deviation, settings)
        reach = settings.average_limit * deviation * sigma
        points.append(
            ChartPoint(
                number=number,
                day=observation.day,
                reference=observation.reference,
                value=observation.value,
                average=baseline + average * sigma,
                average_low=baseline - reach,
                average_high=baseline + reach if settings.watch is Watch.BOTH else None,
                single_score=z / single_deviation,
                average_score=average / deviation,
                signal=signal,
                rule=rule,
            )
        )
    return tuple(points)


def average_deviation(number: int, settings: TrendSettings) -> float:
    """Standard deviation of the weighted average after so many tests, in standard deviations of one test.

    >>> round(average_deviation(1, ONE_CHANNEL), 6)  # sqrt(0.2^2 + 0.2^2 / 6)
    0.216025
    """
    kept = (1 - settings.weight) ** number
    own = settings.weight / (2 - settings.weight) * (1 - kept * kept)
    return math.sqrt(own + (1 - kept) ** 2 / settings.baseline_tests)


def _signal(average: float, single: float, settings: TrendSettings) -> tuple[TrendState, Rule | None]:
    """Where the single reading and the average point apart, the single reading counts."""
    sides = ((TrendState.ALARM_LOW, -1), (TrendState.ALARM_HIGH, 1))
    passed = [
        (signal, sign * single > settings.single_limit, sign * average > settings.average_limit)
        for signal, sign in sides[: 1 if settings.watch is Watch.LOW else 2]
    ]
    for signal, by_single, by_average in sorted(passed, key=lambda side: not side[1]):
        if by_single or by_average:
            both = by_single and by_average
            return signal, Rule.BOTH if both else Rule.SINGLE_READING if by_single else Rule.AVERAGE
    return TrendState.IN_CONTROL, None


def _suspects(base: Sequence[Observation]) -> tuple[str, ...]:
    position = outlying([observation.value for observation in base])
    if position is None:
        return ()
    odd = base[position]
    name = f"test {odd.reference} of" if odd.reference else "the test of"
    return (f"{name} {day_in_words(odd.day)} ({odd.value:.1f} %)",)


@dataclass(frozen=True, slots=True)
class Retest(Worded):
    """What fresh retests say of an alarm: the score towards the alarm's side, and whether it is confirmed."""

    confirmed: bool
    score: float
    retests: int
    mean: float
    baseline: float

    @property
    def words(self) -> str:
        """Confirmed or not, with the figures."""
        figures = (
            f"{counted(self.retests, 'retest')}, mean {self.mean:.1f} % against the baseline of "
            f"{self.baseline:.1f} %, {self.score:.2f} standard deviations towards the alarm"
        )
        if self.confirmed:
            return f"Alarm confirmed: {figures}, above {CONFIRMED_AT}."
        return f"Alarm not confirmed: {figures}, not above {CONFIRMED_AT}."


def confirm(verdict: TrendVerdict, retests: Sequence[float]) -> Retest:
    """Do fresh retests, taken after the alarm and in the channel's own unit, confirm it?

    z = (b - mean) / (sigma sqrt(1/r + 1/M)) > 1.645 for a low alarm, mirrored for a high one. Refuses a
    verdict without an alarm and an empty list. Worked: baseline 100, sigma 1.5, M 6, one retest at 95 gives
    z = 5 / (1.5 sqrt(7/6)) = 3.086: confirmed.
    """
    if verdict.alarm is None or verdict.baseline is None:
        raise refused(
            "no_alarm", "verdict", verdict.state, "has no alarm to confirm", "judge the trend first"
        )
    if not retests:
        raise refused("no_retest", "retests", "none", "is empty", "enter at least one retest")
    mean = math.fsum(finite("retest", value) for value in retests) / len(retests)
    deviation = verdict.sigma * math.sqrt(1 / len(retests) + 1 / verdict.settings.baseline_tests)
    towards = 1 if verdict.state is TrendState.ALARM_LOW else -1
    score = towards * (verdict.baseline - mean) / deviation
    return Retest(score > CONFIRMED_AT, score, len(retests), mean, verdict.baseline)
