import re
from datetime import date, timedelta
from decimal import Decimal
from xml.etree import ElementTree

import pytest

from fleet.common.chart import (
    Chart,
    ChartBaseline,
    ChartEvent,
    ChartForecast,
    ChartLimit,
    ChartPoint,
    PointKind,
    describe,
    letter,
    render,
    value_text,
)

START = date(2026, 1, 1)


def chart_of(*values: str, **parts: object) -> Chart:
    points = tuple(ChartPoint(START + timedelta(days=30 * n), Decimal(v)) for n, v in enumerate(values))
    return Chart("flow", "Flow", "ml/min", points, **parts)  # type: ignore[arg-type]


def drawn(chart: Chart, cls: str) -> list[ElementTree.Element]:
    return [
        one for one in ElementTree.fromstring(render(chart)).iter() if cls in one.get("class", "").split()
    ]


def test_the_drawing_is_well_formed_named_and_described() -> None:
    root = ElementTree.fromstring(render(chart_of("118", "121")))
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "flow-title flow-desc"
    assert [one.get("id") for one in root if one.tag in ("title", "desc")] == ["flow-title", "flow-desc"]


def test_the_drawing_carries_no_inline_style_and_no_script() -> None:
    full = chart_of(
        "118",
        "97",
        limits=(ChartLimit(Decimal(90), "Least", False),),
        baselines=(ChartBaseline(START, START + timedelta(days=20), Decimal("119.4")),),
        events=(ChartEvent(START, "Panel replaced"),),
        forecast=(ChartForecast(START + timedelta(days=60), 80.0, 90.0, 100.0),),
    )
    assert re.search(r"style=|<script|<style|\son\w+=", render(full)) is None


def test_words_from_outside_are_escaped() -> None:
    chart = Chart(
        'a"b', "<b>Flow</b>", "ml & more", (ChartPoint(START, 1),), limits=(ChartLimit(2, "<i>Most</i>"),)
    )
    text = render(chart)
    assert "<b>" not in text
    assert "<i>" not in text
    assert ElementTree.fromstring(text).findtext("title") == "<b>Flow</b>"


def test_every_kind_of_point_has_its_own_shape() -> None:
    points = tuple(ChartPoint(START + timedelta(days=n), 100 + n, kind) for n, kind in enumerate(PointKind))
    chart = Chart("flow", "Flow", "ml/min", points)
    shapes = [
        drawn(chart, f"chart-point{'' if kind is PointKind.NORMAL else f'-{kind}'}") for kind in PointKind
    ]
    assert [len(found) for found in shapes] == [1, 1, 1, 1]
    assert [found[0].tag for found in shapes] == ["circle", "rect", "rect", "path"]


def test_a_point_left_out_of_the_trend_is_not_on_its_line() -> None:
    points = (
        ChartPoint(START, 100),
        ChartPoint(START + timedelta(days=1), 50, PointKind.LEFT_OUT),
        ChartPoint(START + timedelta(days=2), 101),
    )
    (line,) = drawn(Chart("flow", "Flow", "ml/min", points), "chart-line")
    assert len(line.get("points", "").split()) == 2


def test_a_higher_value_is_drawn_higher_and_a_later_day_further_right() -> None:
    (line,) = drawn(chart_of("100", "110"), "chart-line")
    (x1, y1), (x2, y2) = (map(float, pair.split(",")) for pair in line.get("points", "").split())
    assert (x1 < x2, y1 > y2) == (True, True)


def test_the_forbidden_side_of_a_limit_is_hatched() -> None:
    lower = chart_of("100", limits=(ChartLimit(90, "Least", False),))
    upper = chart_of("100", limits=(ChartLimit(110, "Most", True),))
    for chart, is_below in ((lower, True), (upper, False)):
        (limit,) = drawn(chart, "chart-limit")
        hatch = re.search(
            r'<rect x="0" y="([\d.]+)" width="100%" height="([\d.]+)" fill="url\(#flow-hatch\)"',
            render(chart),
        )
        y = float(limit.get("y1", ""))
        edge = hatch and (float(hatch[1]) if is_below else float(hatch[1]) + float(hatch[2]))
        assert edge == y


def test_one_reading_alone_can_be_drawn() -> None:
    assert len(drawn(chart_of("118"), "chart-point")) == 1


def test_a_chart_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing to draw"):
        render(chart_of())


def test_the_description_says_count_ends_and_limits() -> None:
    words = describe(chart_of("118", "107.50", limits=(ChartLimit(Decimal(90), "Least allowed", False),)))
    assert words.replace("\u00a0", " ") == (
        "2 readings, from 118 ml/min on 1 Jan 2026 to 107.50 ml/min on 31 Jan 2026. Limits: Least allowed 90 ml/min."
    )
    assert describe(chart_of()) == "No readings yet."
    assert describe(chart_of("1", description="Steady.")) == "Steady."


def test_events_carry_letters_in_order() -> None:
    assert [letter(n) for n in (0, 1, 25, 26, 52)] == ["A", "B", "Z", "A1", "A2"]


def test_readings_stay_as_written_and_computed_values_lose_needless_digits() -> None:
    assert [value_text(one) for one in (Decimal("1.50"), 3, 104.60000000000001)] == ["1.50", "3", "104.6"]


@pytest.mark.parametrize("is_upper", [True, False])
def test_past_a_limit_at_the_edge_there_is_room_for_its_words(is_upper: bool) -> None:
    chart = chart_of("100", limits=(ChartLimit(100 + (10 if is_upper else -10), "Limit", is_upper),))
    (words,) = drawn(chart, "chart-limit-words")
    assert 40 < float(words.get("y", "")) < 266
