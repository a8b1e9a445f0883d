"""A trend chart drawn by the server as SVG: points, limits, baseline, events, forecast. Pure.

The drawing carries classes only, no inline style, so it passes a strict content security policy and follows
the page's colours. Across it is laid out in percent and down in pixels, so words stay readable on a phone.
Beside every drawing stands a table with the same values; the drawing names itself with <title> and <desc>.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from html import escape

from fleet.common import wording
from fleet.common.scale import Scale, date_ticks, nice_ticks, number_text

HEIGHT = 300
TOP, BOTTOM = 34.0, 268.0
LEFT, RIGHT = 11.0, 97.0
ROOM_BEYOND = 0.1
Value = Decimal | int | float


class PointKind(StrEnum):
    """How a point is drawn: ring, half square, filled square, cross."""

    NORMAL = "normal"
    FLAGGED = "flagged"
    FAILED = "failed"
    LEFT_OUT = "left-out"


@dataclass(frozen=True, slots=True)
class ChartPoint:
    on: date
    value: Value
    kind: PointKind = PointKind.NORMAL
    words: str = ""


@dataclass(frozen=True, slots=True)
class ChartLimit:
    """A line not to be crossed; `is_upper` says on which side the forbidden part lies."""

    value: Value
    label: str
    is_upper: bool = True


@dataclass(frozen=True, slots=True)
class ChartBaseline:
    """What was normal between two days, since the last refit for instance."""

    start: date
    end: date
    value: Value


@dataclass(frozen=True, slots=True)
class ChartEvent:
    on: date
    label: str


@dataclass(frozen=True, slots=True)
class ChartForecast:
    """The expected value of one day and the band it is expected in."""

    on: date
    low: Value
    middle: Value
    high: Value


@dataclass(frozen=True, slots=True)
class Chart:
    """Everything a trend chart shows. `identifier` is unique on its page and begins with a letter."""

    identifier: str
    title: str
    unit: str
    points: tuple[ChartPoint, ...]
    description: str = ""
    limits: tuple[ChartLimit, ...] = ()
    baselines: tuple[ChartBaseline, ...] = ()
    events: tuple[ChartEvent, ...] = ()
    forecast: tuple[ChartForecast, ...] = ()


def value_text(value: Value) -> str:
    """A reading as written, a computed float without needless digits: `value_text(Decimal("1.50"))` is "1.50"."""
    if isinstance(value, Decimal):
        return format(value, "f")
    return number_text(value) if isinstance(value, float) else str(value)


def days_of(chart: Chart) -> list[date]:
    """Every day the chart must reach, unsorted."""
    days = [point.on for point in chart.points] + [event.on for event in chart.events]
    days += [step.on for step in chart.forecast]
    return days + [day for line in chart.baselines for day in (line.start, line.end)]


def values_of(chart: Chart) -> list[float]:
    """Every value the chart must reach, unsorted."""
    values = [point.value for point in chart.points] + [limit.value for limit in chart.limits]
    values += [line.value for line in chart.baselines]
    return [
        float(value) for value in (*values, *(v for step in chart.forecast for v in (step.low, step.high)))
    ]


def describe(chart: Chart) -> str:
    """The chart in a sentence, for people who hear it rather than see it."""
    if chart.description:
        return chart.description
    if not chart.points:
        return "No readings yet."
    first, last = chart.points[0], chart.points[-1]
    limits = "; ".join(
        f"{limit.label} {wording.quantity(value_text(limit.value), chart.unit)}" for limit in chart.limits
    )
    return (
        f"{wording.counted(len(chart.points), 'reading')}, "
        f"from {wording.quantity(value_text(first.value), chart.unit)} on {wording.day(first.on)} "
        f"to {wording.quantity(value_text(last.value), chart.unit)} on {wording.day(last.on)}."
        f"{f' Limits: {limits}.' if limits else ''}"
    )


def render(chart: Chart) -> str:
    """The drawing as one <svg> element: `render(chart)` begins with '<svg class="chart-drawing"'.

    Raises ValueError for a chart with neither a day nor a value to draw.
    """
    days, values = days_of(chart), values_of(chart)
    if not days or not values:
        raise ValueError(f"chart “{chart.title}” has nothing to draw")
    across = Scale.of_days(days, LEFT, RIGHT)
    ticks = nice_ticks(*_reach(chart, values))
    down = Scale(ticks[0], ticks[-1], BOTTOM, TOP)
    name = escape(chart.identifier, quote=True)
    parts = (
        f'<svg class="chart-drawing" role="img" height="{HEIGHT}"',
        f' aria-labelledby="{name}-title {name}-desc">',
        f'<title id="{name}-title">{escape(chart.title)}</title>',
        f'<desc id="{name}-desc">{escape(describe(chart))}</desc>',
        *_beyond(chart, down, name),
        *_grid(ticks, down),
        *_days(across),
        *_stretched(chart, across, down),
        *_limits(chart, down),
        *_events(chart, across),
        *_points(chart, across, down),
        "</svg>",
    )
    return "".join(parts)


def letter(index: int) -> str:
    """The sign of the n-th event: A to Z, then A1, B1 and so on."""
    return chr(ord("A") + index % 26) + (str(index // 26) if index >= 26 else "")


def _reach(chart: Chart, values: list[float]) -> tuple[float, float]:
    """Lowest and highest value to show: past each limit there is room for its words."""
    low, high = min(values), max(values)
    room = ((high - low) or abs(high) or 1.0) * ROOM_BEYOND
    edges = [float(limit.value) + (room if limit.is_upper else -room) for limit in chart.limits]
    return min(low, *edges, high), max(high, *edges, low)


def _beyond(chart: Chart, down: Scale, name: str) -> Iterator[str]:
    """Hatching on the forbidden side of each limit."""
    if chart.limits:
        yield (
            f'<defs><pattern id="{name}-hatch" width="7" height="7" patternUnits="userSpaceOnUse">'
            '<path class="chart-beyond" d="M0 7L7 0"/></pattern></defs>'
        )
    for limit in chart.limits:
        y = down.at(float(limit.value))
        top, height = (TOP, y - TOP) if limit.is_upper else (y, BOTTOM - y)
        if height > 0:
            yield (
                f'<rect x="0" y="{top:.1f}" width="100%" height="{height:.1f}" fill="url(#{name}-hatch)"/>'
            )


def _grid(ticks: list[float], down: Scale) -> Iterator[str]:
    for tick in ticks:
        y = down.at(tick)
        yield f'<line class="chart-grid" x1="0" x2="100%" y1="{y:.1f}" y2="{y:.1f}"/>'
        yield f'<text class="chart-halo" x="8" y="{y - 4:.1f}">{number_text(tick)}</text>'


def _days(across: Scale) -> Iterator[str]:
    ticks = date_ticks(date.fromordinal(int(across.low)), date.fromordinal(int(across.high)))
    for index, (day, words) in enumerate(ticks):
        x = across.at(day.toordinal())
        kind = " chart-when-between" if index % 2 else ""
        yield f'<line class="chart-axis" x1="{x:.2f}%" x2="{x:.2f}%" y1="{BOTTOM}" y2="{BOTTOM + 5}"/>'
        place = f'x="{x:.2f}%" y="{BOTTOM + 20}"'
        yield f'<text class="chart-when{kind}" {place} text-anchor="middle">{words}</text>'


def _path(steps: Iterable[tuple[date, Value]], across: Scale, down: Scale) -> str:
    return " ".join(
        f"{across.at(day.toordinal()) * 10:.1f},{down.at(float(value)):.1f}" for day, value in steps
    )


def _stretched(chart: Chart, across: Scale, down: Scale) -> Iterator[str]:
    """Lines and bands, in a box that stretches with the page while its strokes do not."""
    yield f'<svg width="100%" height="{HEIGHT}" viewBox="0 0 1000 {HEIGHT}" preserveAspectRatio="none">'
    keep = 'vector-effect="non-scaling-stroke"'
    if chart.forecast:
        edge = [(step.on, step.high) for step in chart.forecast]
        edge += [(step.on, step.low) for step in reversed(chart.forecast)]
        middle = _path([(step.on, step.middle) for step in chart.forecast], across, down)
        yield f'<polygon class="chart-band" points="{_path(edge, across, down)}"/>'
        yield f'<polyline class="chart-forecast" {keep} points="{middle}"/>'
    for line in chart.baselines:
        points = _path([(line.start, line.value), (line.end, line.value)], across, down)
        yield f'<polyline class="chart-baseline" {keep} points="{points}"/>'
    used = [(point.on, point.value) for point in chart.points if point.kind is not PointKind.LEFT_OUT]
    yield f'<polyline class="chart-line" {keep} points="{_path(used, across, down)}"/></svg>'


def _limits(chart: Chart, down: Scale) -> Iterator[str]:
    for limit in chart.limits:
        y = down.at(float(limit.value))
        words = escape(f"{limit.label} {wording.quantity(value_text(limit.value), chart.unit)}")
        place = f'x="98.5%" y="{y + (-6 if limit.is_upper else 16):.1f}" text-anchor="end"'
        yield f'<line class="chart-limit" x1="0" x2="100%" y1="{y:.1f}" y2="{y:.1f}"/>'
        yield f'<text class="chart-limit-words chart-halo" {place}>{words}</text>'


def _events(chart: Chart, across: Scale) -> Iterator[str]:
    for index, event in enumerate(chart.events):
        x = f"{across.at(event.on.toordinal()):.2f}%"
        yield f'<line class="chart-event" x1="{x}" x2="{x}" y1="24" y2="{BOTTOM}"/>'
        yield f'<rect class="chart-event-box" x="{x}" y="4" width="20" height="20" transform="translate(-10 0)"/>'
        yield f'<text class="chart-event-letter" x="{x}" y="18" text-anchor="middle">{letter(index)}</text>'


def _points(chart: Chart, across: Scale, down: Scale) -> Iterator[str]:
    for point in chart.points:
        x, y = f"{across.at(point.on.toordinal()):.2f}%", f"{down.at(float(point.value)):.1f}"
        yield f'<svg x="{x}" y="{y}" width="1" height="1" overflow="visible">{POINT_SHAPES[point.kind]}</svg>'


POINT_SHAPES = {
    PointKind.NORMAL: '<circle class="chart-point" r="3.5"/>',
    PointKind.FLAGGED: (
        '<rect class="chart-point-flagged" x="-5" y="-5" width="10" height="10"/>'
        '<rect class="chart-point-flagged-half" x="-5" y="-5" width="5" height="10"/>'
    ),
    PointKind.FAILED: '<rect class="chart-point-failed" x="-5" y="-5" width="10" height="10"/>',
    PointKind.LEFT_OUT: '<path class="chart-point-left-out" d="M-4 -4L4 4M-4 4L4 -4"/>',
}
