"""One trend on paper: readings with their limits and events, what is said of them, and the figures."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from fleet.common.pdf.model import (
    Align,
    Band,
    Cell,
    Chart,
    ChartEvent,
    ChartLimit,
    ChartPoint,
    ChartSeries,
    Column,
    Document,
    Level,
    Mark,
    Notice,
    Paragraphs,
    Section,
    Table,
)
from fleet.common.wording import day as day_words
from fleet.common.wording import moment as moment_words
from fleet.quantities import unit_of
from records.gather.trending import LABELS, Channel, Trend
from records.judge.fault_causes import CANNOT_TELL_APART
from records.judge.trend_terms import TrendState
from records.selectors.trends import Line, lines_of

SAFETY = (
    "A trend is an early word, never a limit: every test is judged by the limits of the approved data. "
    "The aircraft's approved maintenance data, the authority's rules and licensed staff decide."
)
ALARMS = (TrendState.ALARM_LOW.value, TrendState.ALARM_HIGH.value)


def trend_document(trend: Trend, title: str, issuer: str, written_at: datetime) -> Document:
    """The page model of a trend; `title` names the procedure."""
    lines = lines_of(trend)
    sections: list[Section] = [
        Notice(channel.words, _level(channel), _name(channel)) for channel in trend.channels
    ]
    sections.append(_chart(trend, lines))
    said = [words for words in trend.words if words not in {channel.words for channel in trend.channels}]
    sections.append(Paragraphs(tuple(said), heading="What else the figures say"))
    if trend.indication is not None:
        sections.append(Paragraphs(CANNOT_TELL_APART, heading="What flows alone cannot tell apart"))
    sections.append(_readings(lines))
    sections += [table for channel in trend.channels for table in _charted(channel)]
    stands = moment_words(written_at)
    return Document(
        title=f"Trend: {trend.watched.name}",
        subtitle=title,
        sections=(*sections, Paragraphs((SAFETY,))),
        issuer=issuer,
        registration=trend.aircraft.registration,
        number=trend.procedure_code,
        identity=(
            ("Aircraft", trend.aircraft.registration),
            ("Tests", str(len(trend.tests))),
            ("As of", stands),
        ),
        printed=stands,
        written_at=written_at,
    )


def _level(channel: Channel) -> Level:
    if channel.state in ALARMS:
        return Level.SOON
    return Level.CLEAR if channel.state == TrendState.IN_CONTROL.value else Level.UNKNOWN


def _name(channel: Channel) -> str:
    return f"{LABELS[channel.name]}: {channel.state.replace('_', ' ')}"


def _chart(trend: Trend, lines: tuple[Line, ...]) -> Chart:
    limits = {
        (end, words)
        for line in lines
        for end, words in ((line.low, "lowest allowed"), (line.high, "highest allowed"))
        if end is not None
    }
    return Chart(
        heading="Readings",
        unit=unit_of(lines[0].unit).label,
        series=tuple(
            ChartSeries(
                line.name,
                tuple(
                    ChartPoint(date.fromisoformat(mark.day), mark.value, mark.verdict != "pass")
                    for mark in line.readings
                    if mark.is_charted
                ),
            )
            for line in lines
        ),
        limits=tuple(ChartLimit(Decimal(str(end)), f"{words} {end:g}") for end, words in sorted(limits)),
        events=tuple(ChartEvent(event.day, event.what) for event in trend.restarts),
    )


def _readings(lines: tuple[Line, ...]) -> Table:
    rows: list[tuple[Cell, ...] | Band] = []
    for line in lines:
        rows.append(Band(f"{line.name} ({line.allowed})"))
        unit = unit_of(line.unit).label
        rows += [
            (
                day_words(date.fromisoformat(mark.day)),
                mark.record,
                f"{mark.written} {unit}",
                f"{mark.percent:.1f} %",
                Mark(Level.CLEAR if mark.verdict == "pass" else Level.STOP, mark.verdict.upper()),
                "" if mark.is_charted else f"not charted: the run is {mark.run_verdict}",
            )
            for mark in line.readings
        ]
    columns = (
        Column("Day", 16),
        Column("Record", 20),
        Column("Reading", 16, Align.RIGHT),
        Column("Of nominal", 14, Align.RIGHT),
        Column("Verdict", 12),
        Column("", 26),
    )
    return Table(columns, tuple(rows), heading="Every test", empty="No sealed test yet.")


def _charted(channel: Channel) -> Iterable[Table]:
    verdict = channel.verdict
    if verdict is None or not verdict.points:
        return
    rows = tuple(
        (
            str(point.number),
            day_words(point.day),
            point.reference,
            f"{point.value:.2f} %",
            f"{point.average:.2f} %",
            f"{point.average_low:.2f}"
            + (f" to {point.average_high:.2f}" if point.average_high else "")
            + " %",
            Mark(Level.SOON if point.is_alarm else Level.CLEAR, "alarm" if point.is_alarm else "inside"),
        )
        for point in verdict.points
    )
    columns = (
        Column("Test", 8, Align.RIGHT),
        Column("Day", 16),
        Column("Record", 20),
        Column("Value", 14, Align.RIGHT),
        Column("Weighted average", 18, Align.RIGHT),
        Column("Its limits", 22, Align.RIGHT),
        Column("", 12),
    )
    heading = f"{LABELS[channel.name]}: tests after the baseline of {verdict.baseline:.2f} %"
    yield Table(columns, rows, heading=heading)
