from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.common.scale import Scale, date_ticks, nice_ticks, number_text


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (1.2, 4.1, [1.0, 2.0, 3.0, 4.0, 5.0]),
        (90, 122, [90.0, 100.0, 110.0, 120.0, 130.0]),
        (0.001, 0.0049, [0.001, 0.002, 0.003, 0.004, 0.005]),
        (-3, 3, [-4.0, -2.0, 0.0, 2.0, 4.0]),
    ],
)
def test_ticks_are_round_and_enclose_the_values(low: float, high: float, ticks: list[float]) -> None:
    assert nice_ticks(low, high) == ticks


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_ticks_always_enclose_both_values_and_stay_few(one: float, other: float) -> None:
    low, high = sorted((round(one, 3), round(other, 3)))
    ticks = nice_ticks(low, high)
    assert ticks[0] <= low + 1e-6
    assert ticks[-1] >= high - 1e-6
    assert 2 <= len(ticks) <= 8


def test_a_scale_of_one_value_puts_it_in_the_middle() -> None:
    assert Scale(5, 5, 0, 100).at(5) == 50
    assert Scale(0, 10, 268, 34).at(5) == 151.0


def test_months_are_marked_by_their_first_day() -> None:
    ticks = date_ticks(date(2025, 11, 20), date(2026, 3, 2))
    assert [day for day, _ in ticks] == [
        date(2025, 12, 1),
        date(2026, 1, 1),
        date(2026, 2, 1),
        date(2026, 3, 1),
    ]
    assert ticks[0][1] == "Dec\u00a02025"


def test_a_short_span_is_marked_by_its_own_ends() -> None:
    assert date_ticks(date(2026, 3, 3), date(2026, 3, 9)) == [
        (date(2026, 3, 3), "3\u00a0Mar\u00a02026"),
        (date(2026, 3, 9), "9\u00a0Mar\u00a02026"),
    ]
    assert len(date_ticks(date(2026, 3, 3), date(2026, 3, 3))) == 1


@given(st.dates(date(1950, 1, 1), date(2090, 1, 1)), st.integers(0, 12000))
def test_there_are_never_more_than_nine_date_ticks_and_all_lie_inside(first: date, days: int) -> None:
    last = first + timedelta(days=days)
    ticks = [day for day, _ in date_ticks(first, last)]
    assert 1 <= len(ticks) <= 9
    assert all(first <= day <= last for day in ticks)


def test_a_tick_is_written_without_needless_zeros() -> None:
    assert [number_text(value) for value in (2.50, 100.0, -3.0, Decimal("0.10"))] == [
        "2.5",
        "100",
        "−3",
        "0.1",
    ]
