from decimal import Decimal

import pytest

from fleet.common.gauge import gauge


def test_the_used_part_is_drawn_in_proportion_to_the_limit() -> None:
    bar = gauge(50, 200, early=180)
    assert (bar.filled, bar.limit, bar.over, bar.early) == ("25.00%", "100.00%", "", "90.00%")
    assert bar.ticks == tuple(f"{n * 10}.00%" for n in range(11))


def test_past_the_limit_the_bar_shows_how_far_it_is_over() -> None:
    bar = gauge(Decimal("250"), Decimal("200"))
    assert (bar.filled, bar.limit, bar.over) == ("80.00%", "80.00%", "20.00%")
    assert bar.is_over


def test_exactly_at_the_limit_nothing_is_over() -> None:
    bar = gauge(200, 200)
    assert (bar.filled, bar.over, bar.is_over) == ("100.00%", "", False)


def test_less_than_nothing_used_is_drawn_as_nothing() -> None:
    assert gauge(-5, 100).filled == "0.00%"


@pytest.mark.parametrize("limit", [0, -10])
def test_a_limit_that_is_not_above_zero_is_refused(limit: int) -> None:
    with pytest.raises(ValueError, match="above zero"):
        gauge(1, limit)
