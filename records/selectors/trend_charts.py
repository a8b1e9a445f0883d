"""A trend as charts: each point's readings in its own unit, each channel in per cent. Display only."""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from datetime import date, timedelta

from fleet.common.chart import (
    Chart,
    ChartBaseline,
    ChartEvent,
    ChartForecast,
    ChartLimit,
    ChartPoint,
    PointKind,
)
from records.gather.series import nominal_of, point_segments
from records.gather.trending import Channel, Trend
from records.judge.crossing import Crossing
from records.judge.terms import Outcome
from records.judge.trend_terms import TrendVerdict
from records.selectors.trends import Line, lines_of

FORECAST_STEPS = 8
FURTHEST = timedelta(days=2 * 365)
CHANNEL_NAMES = {
    "together": "Both sides together",
    "balance": "Left against right",
    "alone": "Flow",
}


def alarmed_records(trend: Trend) -> frozenset[str]:
    """The records whose reading raised an alarm that stands."""
    return frozenset(channel.alarmed_record for channel in trend.channels if channel.alarmed_record)


def reading_charts(trend: Trend) -> list[Chart]:
    """One chart for each point: readings as compared, limits, events, baseline, alarm marks, forecast."""
    return [_reading_chart(trend, index, line) for index, line in enumerate(lines_of(trend))]


def _reading_chart(trend: Trend, index: int, line: Line) -> Chart:
    alarmed = alarmed_records(trend)
    return Chart(
        identifier=f"line-{index}",
        title=line.name,
        unit=line.unit,
        points=tuple(_points(line, alarmed)),
        limits=tuple(_limits(line)),
        baselines=tuple(_baselines(trend, line)),
        events=tuple(ChartEvent(event.day, event.what) for event in trend.restarts),
        forecast=tuple(_forecast(trend, line)),
    )


def _points(line: Line, alarmed: frozenset[str]) -> Iterator[ChartPoint]:
    for mark in line.readings:
        words = f"record {mark.record}"
        if not mark.is_charted:
            kind, words = PointKind.LEFT_OUT, f"{words} is {mark.run_verdict.upper()}, no evidence"
        elif mark.verdict == Outcome.FAIL:
            kind = PointKind.FAILED
        elif mark.record in alarmed:
            kind, words = PointKind.FLAGGED, f"{words} raised the alarm"
        else:
            kind = PointKind.NORMAL
        yield ChartPoint(date.fromisoformat(mark.day), mark.value, kind, words)


def _limits(line: Line) -> Iterator[ChartLimit]:
    if line.low is not None:
        yield ChartLimit(line.low, "Least allowed", is_upper=False)
    if line.high is not None:
        yield ChartLimit(line.high, "Most allowed")


def _scale_of(trend: Trend, key: str) -> float:
    """One per cent of a point's nominal, in its unit."""
    point = next(each for each in trend.watched.points if each.key == key)
    latest = next((test.readings[key].value for test in reversed(trend.tests) if key in test.readings), None)
    return float(nominal_of(point, latest)) / 100 if latest is not None else 1.0


def _baselines(trend: Trend, line: Line) -> Iterator[ChartBaseline]:
    """The mean of the tests that formed the present baseline, from the first of them to the newest test."""
    verdict = next((channel.verdict for channel in trend.channels if channel.verdict), None)
    segment = point_segments(trend.tests, trend.restarts, line.key)[-1]
    if verdict is None or verdict.baseline is None or len(segment.valid) < verdict.settings.baseline_tests:
        return
    first = segment.valid[: verdict.settings.baseline_tests]
    mean = statistics.fmean(observation.value for observation in first)
    value = round(mean * _scale_of(trend, line.key), 1)
    yield ChartBaseline(first[0].day, segment.valid[-1].day, value)


def _forecast(trend: Trend, line: Line) -> Iterator[ChartForecast]:
    crossing = next((each for name, each in trend.crossings if name == line.name), None)
    if crossing is None or crossing.earliest is None or crossing.likeliest is None or not line.readings:
        return
    start = date.fromisoformat(line.readings[-1].day)
    end = min(crossing.likeliest, start + FURTHEST)
    if end <= start:
        return
    scale = _scale_of(trend, line.key)
    for step in range(FORECAST_STEPS + 1):
        day = start + (end - start) * step / FORECAST_STEPS
        low, middle, high = (
            _falling(crossing, day, reached) * scale
            for reached in (crossing.earliest, crossing.likeliest, crossing.latest)
        )
        yield ChartForecast(day, round(low, 1), round(middle, 1), round(max(high, middle), 1))


def _falling(crossing: Crossing, day: date, reached: date | None) -> float:
    """Where a fall that meets the limit on one day stands on another; level where it never does."""
    level, begins = crossing.level or 0.0, crossing.fall_begins
    if reached is None or begins is None or day <= begins or reached <= begins:
        return level
    return level - (level - crossing.limit) * ((day - begins) / (reached - begins))


def channel_chart(channel: Channel, trend: Trend) -> Chart | None:
    """One channel after its baseline, as judged, with the limits of a single reading; None before that."""
    verdict = channel.verdict
    if verdict is None or verdict.baseline is None or not verdict.points:
        return None
    return Chart(
        identifier=f"channel-{channel.name}",
        title=f"{CHANNEL_NAMES.get(channel.name, channel.name)}, against the baseline",
        unit="%",
        points=tuple(
            ChartPoint(
                point.day,
                round(point.value, 2),
                PointKind.FLAGGED if point.is_alarm else PointKind.NORMAL,
                f"record {point.reference}, average {point.average:.2f}",
            )
            for point in verdict.points
        ),
        limits=tuple(_channel_limits(verdict)),
        baselines=(ChartBaseline(verdict.points[0].day, verdict.points[-1].day, round(verdict.baseline, 2)),),
        events=tuple(
            ChartEvent(event.day, event.what)
            for event in trend.restarts
            if event.day >= verdict.points[0].day
        ),
    )


def _channel_limits(verdict: TrendVerdict) -> Iterator[ChartLimit]:
    if verdict.single_low is not None:
        yield ChartLimit(round(verdict.single_low, 2), "Alarm below", is_upper=False)
    if verdict.single_high is not None:
        yield ChartLimit(round(verdict.single_high, 2), "Alarm above")
