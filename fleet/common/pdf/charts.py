"""Readings over time: limits as dashed lines, events as numbered posts, marks that differ by shape."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from fleet.common.pdf.faces import STRONG, TEXT, printable, shortened, width_of
from fleet.common.pdf.ink import GRID, HAIRLINE, ICE, INK, LINE, PAPER, SOFT
from fleet.common.pdf.model import Chart, ChartPoint, ChartSeries
from fleet.common.pdf.scales import date_ticks, value_ticks, value_words
from fleet.common.wording import MONTHS

PLOT_HEIGHT = 62 * mm
FLAG = 9.0
SMALL = 7.0


@dataclass(frozen=True, slots=True)
class _Axes:
    """From days and values to points on the page."""

    left: float
    right: float
    bottom: float
    top: float
    first: date
    last: date
    low: float
    high: float

    def x(self, day: date) -> float:
        return self.left + (self.right - self.left) * (day - self.first).days / (self.last - self.first).days

    def y(self, value: float) -> float:
        return self.bottom + (self.top - self.bottom) * (value - self.low) / (self.high - self.low)


class ChartDrawing(Flowable):  # type: ignore[misc]
    """The plot of a chart with at least one point; key and words stand beneath it as text."""

    def __init__(self, chart: Chart) -> None:
        super().__init__()
        self.chart = chart
        values = [float(point.value) for series in chart.series for point in series.points]
        values += [float(limit.value) for limit in chart.limits]
        self.ticks = value_ticks(min(values), max(values))
        days = [point.on for series in chart.series for point in series.points]
        days += [event.on for event in chart.events]
        margin = timedelta(days=max(1, (max(days) - min(days)).days // 40))
        self.first, self.last = min(days) - margin, max(days) + margin
        self.levels = _flag_levels([event.on for event in chart.events], self.first, self.last)

    def wrap(self, available_width: float, _available_height: float) -> tuple[float, float]:
        """Full width; higher by one row for each level of event flags."""
        self.width = available_width
        self.flags = (FLAG + 1) * (max(self.levels, default=-1) + 1)
        self.height = PLOT_HEIGHT + self.flags + 32
        return self.width, self.height

    def draw(self) -> None:
        """Grid, limits, events, readings, in this order, so that readings lie on top."""
        words = value_words(self.ticks)
        left = max(width_of(word, TEXT, SMALL) for word in words) + 6
        right = self.width - (34 * mm if self.chart.limits else 16)
        low, high = float(self.ticks[0]), float(self.ticks[-1])
        axes = _Axes(left, right, 16, 16 + PLOT_HEIGHT, self.first, self.last, low, high)
        self.draw_grid(axes, words)
        self.draw_limits(axes)
        self.draw_events(axes)
        for number, series in enumerate(self.chart.series):
            self.draw_series(axes, number, series)

    def draw_grid(self, axes: _Axes, words: list[str]) -> None:
        """Hairlines at round values, ticks at round days, the unit above the axis."""
        canvas = self.canv
        canvas.setFont(TEXT, SMALL)
        canvas.setFillColor(SOFT)
        canvas.setLineWidth(HAIRLINE)
        for tick, word in zip(self.ticks, words, strict=True):
            height = axes.y(float(tick))
            canvas.setStrokeColor(INK if tick == self.ticks[0] else GRID)
            canvas.line(axes.left, height, axes.right, height)
            canvas.drawRightString(axes.left - 4, height - 2.4, word)
        canvas.setStrokeColor(INK)
        by_month = (axes.last - axes.first).days > 98
        for day in date_ticks(axes.first, axes.last):
            place = axes.x(day)
            canvas.line(place, axes.bottom, place, axes.bottom - 3)
            month = MONTHS[day.month - 1]
            canvas.drawCentredString(
                place, axes.bottom - 11, f"{month} {day.year}" if by_month else f"{day.day} {month}"
            )
        canvas.setFont(STRONG, SMALL)
        canvas.drawString(0, axes.top + self.flags + 8, printable(self.chart.unit))

    def draw_limits(self, axes: _Axes) -> None:
        """Dashed lines with their words in the right margin, spread so that none covers another."""
        canvas = self.canv
        room, lowest = self.width - axes.right - 10, None
        for limit in sorted(self.chart.limits, key=lambda limit: limit.value):
            height = axes.y(float(limit.value))
            at = height if lowest is None else max(height, lowest + SMALL + 2)
            lowest = at
            canvas.saveState()
            canvas.setStrokeColor(INK)
            canvas.setLineWidth(LINE)
            canvas.setDash(5, 2.5)
            canvas.line(axes.left, height, axes.right, height)
            canvas.restoreState()
            canvas.setLineWidth(HAIRLINE)
            canvas.line(axes.right, height, axes.right + 6, at)
            canvas.setFillColor(INK)
            canvas.setFont(TEXT, SMALL)
            canvas.drawString(axes.right + 8, at - 2.4, shortened(limit.words, TEXT, SMALL, room))

    def draw_events(self, axes: _Axes) -> None:
        """Dotted posts with numbered flags above the plot."""
        canvas = self.canv
        for number, (event, level) in enumerate(zip(self.chart.events, self.levels, strict=True), 1):
            place, flag = axes.x(event.on), axes.top + 1 + level * (FLAG + 1)
            canvas.saveState()
            canvas.setStrokeColor(INK)
            canvas.setLineWidth(LINE)
            canvas.setDash(0.8, 1.8)
            canvas.line(place, axes.bottom, place, flag)
            canvas.restoreState()
            draw_flag(canvas, number, place, flag)

    def draw_series(self, axes: _Axes, number: int, series: ChartSeries) -> None:
        """A thin line that breaks at events, then the marks; a fitted series is a heavier, unmarked line."""
        canvas = self.canv
        points = sorted(series.points, key=lambda point: point.on)
        posts = [event.on for event in self.chart.events]
        canvas.saveState()
        canvas.setStrokeColor(ICE)
        canvas.setLineWidth(LINE * 1.6 if series.fitted else HAIRLINE)
        for before, after in pairwise(points):
            if series.fitted or not any(
                before.on <= post <= after.on and before.on < after.on for post in posts
            ):
                canvas.line(*_at(axes, before), *_at(axes, after))
        canvas.restoreState()
        for point in () if series.fitted else points:
            draw_point(canvas, number, *_at(axes, point), outside=point.outside)


def draw_flag(canvas: Any, number: int, middle: float, bottom: float) -> None:
    """A small ink square with the number of an event."""
    width = max(FLAG, width_of(str(number), STRONG, 6.5) + 4)
    canvas.setFillColor(INK)
    canvas.rect(middle - width / 2, bottom, width, FLAG, stroke=0, fill=1)
    canvas.setFillColor(PAPER)
    canvas.setFont(STRONG, 6.5)
    canvas.drawCentredString(middle, bottom + 2.2, str(number))


def draw_point(canvas: Any, number: int, across: float, up: float, *, outside: bool) -> None:
    """The mark of one reading, a shape per series; hollow inside its limits, filled and ringed outside."""
    canvas.setStrokeColor(INK if outside else ICE)
    canvas.setFillColor(INK if outside else PAPER)
    canvas.setLineWidth(LINE)
    shape, size = number % 4, 2.3
    if shape == 0:
        canvas.circle(across, up, size, stroke=1, fill=1)
    else:
        corners = {
            1: ((-1, -1), (1, -1), (1, 1), (-1, 1)),
            2: ((-1.2, -1), (1.2, -1), (0, 1.3)),
            3: ((-1.3, 0), (0, -1.3), (1.3, 0), (0, 1.3)),
        }[shape]
        path = canvas.beginPath()
        path.moveTo(across + corners[0][0] * size, up + corners[0][1] * size)
        for right, rise in corners[1:]:
            path.lineTo(across + right * size, up + rise * size)
        path.close()
        canvas.drawPath(path, stroke=1, fill=1)
    if outside:
        canvas.circle(across, up, size + 2.4, stroke=1, fill=0)


class ChartKey(Flowable):  # type: ignore[misc]
    """One line of the key: the mark of a series, or with `number` None a fitted line, and its words."""

    def __init__(self, words: str, number: int | None, *, outside: bool = False) -> None:
        super().__init__()
        self.words, self.number, self.outside = words, number, outside

    def wrap(self, available_width: float, _available_height: float) -> tuple[float, float]:
        """One line."""
        self.width, self.height = available_width, 12.0
        return self.width, self.height

    def draw(self) -> None:
        """Mark or line, then the words."""
        canvas = self.canv
        canvas.setStrokeColor(ICE)
        canvas.setLineWidth(LINE * 1.6 if self.number is None else HAIRLINE)
        if not self.outside:
            canvas.line(0, 4.5, 16, 4.5)
        if self.number is not None:
            draw_point(canvas, self.number, 8, 4.5, outside=self.outside)
        canvas.setFillColor(INK)
        canvas.setFont(TEXT, 8)
        canvas.drawString(22, 1.8, shortened(self.words, TEXT, 8, self.width - 22))


def chart_keys(chart: Chart) -> list[ChartKey]:
    """A key line per series, and one for readings outside their limits where there are any."""
    keys = [
        ChartKey(series.name, None if series.fitted else number) for number, series in enumerate(chart.series)
    ]
    for number, series in enumerate(chart.series):
        if not series.fitted and any(point.outside for point in series.points):
            return [*keys, ChartKey("filled and ringed: outside its limits", number, outside=True)]
    return keys


def _at(axes: _Axes, point: ChartPoint) -> tuple[float, float]:
    return axes.x(point.on), axes.y(float(point.value))


def _flag_levels(days: list[date], first: date, last: date) -> list[int]:
    """On which row each event's flag stands, so that flags of neighbouring days do not cover each other."""
    apart = (last - first).days / 32
    ends: list[int] = []
    order = sorted(range(len(days)), key=lambda place: days[place])
    levels = [0] * len(days)
    for place in order:
        day = days[place].toordinal()
        free = next((row for row, end in enumerate(ends) if day - end >= apart), len(ends))
        if free == len(ends):
            ends.append(day)
        ends[free] = day
        levels[place] = free
    return levels
