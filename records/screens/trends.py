"""Trends: what every watched channel says, and one trend in full."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse

from fleet.common.chart import Chart
from fleet.common.wording import day
from fleet.screens.base import Screen
from fleet.selectors.aircraft import aircraft_list
from records.judge.fault_causes import CANNOT_TELL_APART
from records.judge.mann_kendall import DAYS_PER_MONTH, LEAST_TESTS, mann_kendall
from records.judge.trend_terms import TrendState as State
from records.models import TrendState
from records.selectors.trend_charts import CHANNEL_NAMES, channel_chart, reading_charts
from records.selectors.trends import TrendQuery, lines_of, trend_for, trend_states
from scheduling.models import Procedure

LEVELS = {
    State.BASELINE_FORMING: "unknown",
    State.IN_CONTROL: "clear",
    State.ALARM_LOW: "stop",
    State.ALARM_HIGH: "stop",
}
WORDS = {
    State.BASELINE_FORMING: "Baseline forming",
    State.IN_CONTROL: "No change seen",
    State.ALARM_LOW: "Alarm, low",
    State.ALARM_HIGH: "Alarm, high",
}
LEAST_SPAN = 4.0


@dataclass(frozen=True, slots=True)
class ChannelRow:
    """One channel of one trend in a list. `place` is where its newest average lies on the fleet's common scale."""

    state: TrendState
    name: str
    level: str
    words: str
    change: str
    slope: str
    cross_check: str
    forecast: str
    url: str
    average: float | None = None


def row_of(state: TrendState) -> ChannelRow:
    """What one kept state says, in a line."""
    verdict = state.detail.get("verdict") or {}
    points = verdict.get("points") or []
    average = points[-1]["average"] if points else None
    known = state.state in set(State)
    return ChannelRow(
        state=state,
        name=CHANNEL_NAMES.get(state.channel, state.channel),
        level=LEVELS[State(state.state)] if known else "unknown",
        words=WORDS[State(state.state)] if known else "Nothing can be said",
        change=_change(average, verdict.get("baseline")),
        slope=slope_words(points),
        cross_check=state.detail.get("cross_check", ""),
        forecast=forecast_words(state.detail.get("crossings", [])),
        url=reverse("records:trend", args=[state.aircraft.registration, state.procedure_code, state.point]),
        average=average,
    )


def _change(average: float | None, baseline: float | None) -> str:
    if average is None or baseline is None:
        return ""
    return f"{signed(average - baseline, 1)}\u00a0%"


def slope_words(points: Sequence[Mapping[str, Any]]) -> str:
    """The median slope of the tests in the present baseline and after it, from four tests on."""
    if len(points) < LEAST_TESTS:
        return ""
    days = [date.fromisoformat(point["day"]).toordinal() for point in points]
    slope = mann_kendall([point["value"] for point in points], days).slope
    if slope is None:
        return ""
    return f"{signed(slope * DAYS_PER_MONTH, 2)}\u00a0% a month"


def signed(value: float, places: int) -> str:
    """With a true sign, and none on what rounds to nothing: `signed(-0.001, 2)` is "0.00"."""
    rounded = round(value, places)
    return f"{rounded:+.{places}f}".replace("-", "\u2212") if rounded else f"{0:.{places}f}"


def forecast_words(crossings: Iterable[dict[str, Any]]) -> str:
    """The earliest day any point may meet its limit, or that there is none to be said."""
    days = [
        (date.fromisoformat(each["earliest"]), each["point"]) for each in crossings if each.get("earliest")
    ]
    if not days:
        return "no date"
    earliest, point = min(days)
    return f"from {day(earliest)} ({point.lower()})"


@dataclass(frozen=True, slots=True)
class StripMark:
    """One aircraft on the fleet's strip: a place in per cent of the width."""

    row: ChannelRow
    place: str


@dataclass(frozen=True, slots=True)
class Strip:
    """One channel of one procedure compared over the fleet."""

    title: str
    marks: tuple[StripMark, ...]
    low_words: str
    high_words: str


def strips_of(rows: Iterable[ChannelRow], titles: dict[str, str]) -> list[Strip]:
    """The fleet side by side, where at least two aircraft can be compared."""
    groups: dict[tuple[str, str, str], list[ChannelRow]] = {}
    for row in rows:
        if row.average is not None:
            key = (row.state.procedure_code, row.state.point, row.state.channel)
            groups.setdefault(key, []).append(row)
    return [_strip(titles.get(key[0], key[0]), group) for key, group in groups.items() if len(group) > 1]


def _strip(title: str, rows: list[ChannelRow]) -> Strip:
    center = 0.0 if rows[0].state.channel == "balance" else 100.0
    reach = max(LEAST_SPAN, *(abs((row.average or center) - center) for row in rows)) * 1.1

    def place(value: float) -> str:
        return f"{50 + (value - center) / reach * 48:.2f}%"

    marks = sorted(rows, key=lambda row: row.average or 0)
    return Strip(
        title=f"{title}: {rows[0].name.lower()}",
        marks=tuple(StripMark(row, place(row.average or center)) for row in marks),
        low_words=f"{center - reach:.0f}\u00a0%".replace("-", "\u2212"),
        high_words=f"{center + reach:.0f}\u00a0%",
    )


class TrendList(Screen):
    """Every aircraft and what is watched on it."""

    template_name = "records/trends.html"

    def page(self) -> dict[str, Any]:
        """The states asked for, alarms first."""
        asked = self.request.GET
        query = TrendQuery(
            registration=asked.get("aircraft", ""),
            procedure_code=asked.get("procedure", ""),
            only_alarms=asked.get("alarms") == "yes",
        )
        procedures = Procedure.objects.filter(operator_id=self.actor.operator_id).order_by("title")
        titles = dict(procedures.values_list("code", "title"))
        rows = [row_of(state) for state in trend_states(self.actor, query)]
        rows.sort(key=lambda row: row.level != "stop")
        watched = sorted({row.state.procedure_code for row in rows} | {query.procedure_code} - {""})
        return {
            "rows": [(row, titles.get(row.state.procedure_code, row.state.procedure_code)) for row in rows],
            "alarms": sum(row.level == "stop" for row in rows),
            "strips": strips_of(rows, titles),
            "aircraft_options": [(row.registration, row.registration) for row in aircraft_list(self.actor)],
            "procedure_options": [(code, titles.get(code, code)) for code in watched],
            "alarm_options": [("yes", "In alarm only")],
        }


class TrendPage(Screen):
    """One trend: chart and table, what it says and what it rests on, what it is consistent with."""

    template_name = "records/trend.html"

    def page(self, registration: str, procedure: str, point: str) -> dict[str, Any]:
        """The trend judged now."""
        trend = trend_for(self.actor, registration, procedure, point)
        title = Procedure.objects.filter(operator_id=self.actor.operator_id, code=procedure).first()
        charts: list[Chart] = reading_charts(trend)
        return {
            "trend": trend,
            "title": title.title if title else procedure,
            "charts": charts,
            "lines": lines_of(trend),
            "channels": [
                {
                    "channel": channel,
                    "name": CHANNEL_NAMES.get(channel.name, channel.name),
                    "level": LEVELS[State(channel.state)] if channel.state in set(State) else "unknown",
                    "words": WORDS[State(channel.state)]
                    if channel.state in set(State)
                    else "Nothing can be said",
                    "chart": channel_chart(channel, trend),
                }
                for channel in trend.channels
            ],
            "pattern": trend.indication.words.partition(" Consistent with any of")[0]
            if trend.indication
            else "",
            "causes": trend.indication.consistent_with if trend.indication else (),
            "cannot": CANNOT_TELL_APART,
        }
