"""Round ticks for charts."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.common.pdf.scales import date_ticks, value_ticks, value_words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0, 10, ["0", "2", "4", "6", "8", "10"]),
        (1250, 2150, ["1,200", "1,400", "1,600", "1,800", "2,000", "2,200"]),
        (27.5, 28.5, ["27.4", "27.6", "27.8", "28.0", "28.2", "28.4", "28.6"]),
        (-3, 3, ["−3", "−2", "−1", "0", "1", "2", "3"]),
        (1500, 1500, ["1,350", "1,400", "1,450", "1,500", "1,550", "1,600", "1,650"]),
        (0, 0, ["−1.0", "−0.5", "0.0", "0.5", "1.0"]),
    ],
)
def test_values_get_round_ticks_with_equal_decimals(low: float, high: float, words: list[str]) -> None:
    assert value_words(value_ticks(low, high)) == words


@settings(max_examples=200, deadline=None)
@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_ticks_enclose_every_value_and_are_few(low: float, reach: float) -> None:
    high = low + reach
    ticks = value_ticks(low, high)
    assert ticks[0] <= Decimal(low)
    assert ticks[-1] >= Decimal(high)
    assert 2 <= len(ticks) <= 9
    assert ticks == sorted(set(ticks))


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        (date(2026, 3, 1), date(2026, 3, 7), [date(2026, 3, day) for day in range(1, 8)]),
        (date(2025, 1, 1), date(2025, 7, 20), [date(2025, month, 1) for month in range(1, 8)]),
        (date(2024, 1, 15), date(2025, 12, 20), [date(2024, 4, 1), date(2024, 7, 1), date(2024, 10, 1)]),
    ],
)
def test_days_get_round_ticks(first: date, last: date, expected: list[date]) -> None:
    assert date_ticks(first, last)[: len(expected)] == expected


@settings(max_examples=200, deadline=None)
@given(st.dates(date(1990, 1, 1), date(2060, 1, 1)), st.integers(1, 12_000))
def test_day_ticks_lie_between_the_ends_and_are_few(first: date, span: int) -> None:
    last = first + timedelta(days=span)
    ticks = date_ticks(first, last)
    assert 1 <= len(ticks) <= 12
    assert first <= ticks[0]
    assert ticks[-1] <= last
