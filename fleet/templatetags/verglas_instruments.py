"""Tags: the remaining bar and the trend chart with its table."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.utils.safestring import SafeString

from fleet.common import wording
from fleet.common.chart import Chart, PointKind, letter, render, value_text
from fleet.common.gauge import gauge

register = template.Library()

MINUTES = "minutes"
KIND_WORDS = {
    PointKind.NORMAL: "",
    PointKind.FLAGGED: "flagged",
    PointKind.FAILED: "outside the limit",
    PointKind.LEFT_OUT: "left out of the trend",
}


def written(value: int | Decimal, unit: str) -> str:
    return wording.hours(int(value)) if unit == MINUTES else wording.quantity(value, unit)


def left(used: int | Decimal, limit: int | Decimal, unit: str) -> str:
    rest = Decimal(limit) - Decimal(used)
    if rest == 0:
        return "none left"
    return f"{written(abs(rest), unit)} {'left' if rest > 0 else 'over'}"


@register.inclusion_tag("components/meter_bar.html")
def meter_bar(
    used: int | Decimal, limit: int | Decimal, unit: str, early: int | Decimal | None = None, label: str = ""
) -> dict[str, Any]:
    return {
        "bar": gauge(used, limit, early),
        "label": label,
        "used": written(used, unit),
        "limit": written(limit, unit),
        "left": left(used, limit, unit),
    }


@register.inclusion_tag("components/trend_chart.html")
def trend_chart(chart: Chart) -> dict[str, Any]:
    has_drawing = bool(chart.points)
    kinds = {point.kind for point in chart.points}
    return {
        "chart": chart,
        "drawing": SafeString(render(chart))
        if has_drawing
        else "",  # render() escapes every word it is given
        "rows": [
            (point, value_text(point.value), KIND_WORDS[point.kind]) for point in reversed(chart.points)
        ],
        "steps": [
            (step.on, value_text(step.low), value_text(step.middle), value_text(step.high))
            for step in chart.forecast
        ],
        "events": [(letter(index), event) for index, event in enumerate(chart.events)],
        "has_flagged": PointKind.FLAGGED in kinds,
        "has_failed": PointKind.FAILED in kinds,
        "has_left_out": PointKind.LEFT_OUT in kinds,
    }
