"""Life-limited parts as the regulations have them: 14 CFR 43.10 and GM M.A.305(d)."""

from datetime import date

import pytest

from fleet.life import (
    Limit,
    Parameter,
    PartOnProduct,
    disposition_reasons,
    life_status,
    months_later,
    whole_months,
)
from fleet.models import Installation

pytestmark = pytest.mark.published

OFF = PartOnProduct("s/n 101", 78_270, (400, 90))  # removed at 1 304.5 h time in service


def test_refitted_to_the_same_product_at_the_same_time_in_service_needs_no_disposition() -> None:
    """14 CFR 43.10(b)."""
    assert disposition_reasons(OFF, PartOnProduct("s/n 101", 78_270, (400, 90))) == ()


def test_refitted_to_another_serial_number_needs_a_disposition() -> None:
    """14 CFR 43.10(b)(2)."""
    assert disposition_reasons(OFF, PartOnProduct("s/n 102", 78_270, (400, 90))) == (
        "it was fitted to s/n 102, having come off s/n 101",
    )


def test_refitted_after_the_product_flew_needs_a_disposition() -> None:
    """14 CFR 43.10(b)(3): 1 306.0 h against 1 304.5 h."""
    assert disposition_reasons(OFF, PartOnProduct("s/n 101", 78_360, (400, 90))) == (
        "s/n 101 accrued time in service meanwhile",
    )


def test_refitted_with_another_life_status_needs_a_disposition() -> None:
    """14 CFR 43.10(b)(1)."""
    assert disposition_reasons(OFF, PartOnProduct("s/n 101", 78_270, (401, 90))) == (
        "its life status changed",
    )


def test_current_status_is_limit_accumulated_and_remaining_in_each_parameter() -> None:
    """GM M.A.305(d): 10 000 landings and 12 years; 9 640 landings and 11 years 3 months accumulated."""
    limits = [Limit(Parameter.LANDINGS, 10_000), Limit(Parameter.MONTHS, 144)]

    landings, months = life_status(limits, {Parameter.LANDINGS: 9_640}, date(2014, 10, 15), date(2026, 1, 15))

    assert (landings.limit, landings.accumulated, landings.remaining) == (10_000, 9_640, 360)
    assert (months.limit, months.accumulated, months.remaining) == (144, 135, 9)
    assert months.ends_on == date(2026, 10, 15)
    assert not landings.is_reached


def test_the_record_offers_the_seven_methods_of_disposition() -> None:
    """14 CFR 43.10(c)(1): record system, tag, two kinds of mark, segregation, mutilation, other accepted method."""
    assert [value for value, _ in Installation.Disposition.choices] == [
        "record_system",
        "tag",
        "mark",
        "permanent_mark",
        "segregation",
        "mutilation",
        "other",
    ]


@pytest.mark.parametrize(
    ("start", "end", "months"),
    [
        (date(2026, 1, 15), date(2026, 3, 14), 1),
        (date(2026, 1, 15), date(2026, 3, 15), 2),
        (date(2026, 1, 31), date(2026, 2, 28), 1),
        (date(2026, 3, 15), date(2026, 1, 15), -2),
        (date(2024, 2, 29), date(2025, 2, 28), 12),
    ],
)
def test_months_left_are_never_rounded_up(start: date, end: date, months: int) -> None:
    assert whole_months(start, end) == months


def test_a_month_end_stays_a_month_end() -> None:
    assert months_later(date(2026, 1, 31), 1) == date(2026, 2, 28)
    assert months_later(date(2023, 2, 28), 12) == date(2024, 2, 28)


def test_an_overrun_life_is_reached_and_below_zero() -> None:
    (over,) = life_status(
        [Limit(Parameter.MINUTES, 60_000)], {Parameter.MINUTES: 60_090}, None, date(2026, 1, 1)
    )

    assert (over.remaining, over.is_reached) == (-90, True)


def test_a_calendar_life_without_a_day_of_manufacture_is_unknown_not_endless() -> None:
    (life,) = life_status([Limit(Parameter.MONTHS, 120)], {}, None, date(2026, 1, 1))

    assert (life.accumulated, life.remaining, life.is_reached) == (None, None, False)


@pytest.mark.parametrize(("today", "is_reached"), [(date(2026, 10, 15), False), (date(2026, 10, 16), True)])
def test_a_calendar_life_may_be_used_through_its_last_day(today: date, is_reached: bool) -> None:
    (life,) = life_status([Limit(Parameter.MONTHS, 144)], {}, date(2014, 10, 15), today)

    assert (life.remaining, life.is_reached) == (0, is_reached)
