"""Calendar limits against the rules that state them."""

from datetime import date

import pytest

from scheduling.due.engine import due_of, first_of
from scheduling.due.terms import DueStatus, Facts, Limit, Mark, Measure, MonthRule, Since

pytestmark = pytest.mark.published


def due_day(limit: Limit, done: str) -> date | None:
    day = date.fromisoformat(done)
    return due_of(limit, Facts(day, Mark(day), {Since.LAST_DONE: Mark(day)})).due_day


@pytest.mark.parametrize(
    ("done", "months", "last_legal_day"),
    [
        ("2025-03-01", 12, "2026-03-31"),
        ("2025-03-15", 12, "2026-03-31"),
        ("2025-03-31", 12, "2026-03-31"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2023-02-10", 12, "2024-02-29"),
        ("2024-02-05", 24, "2026-02-28"),
        ("2020-07-22", 24, "2022-07-31"),
    ],
)
def test_calendar_months_run_to_the_last_day_of_the_month(
    done: str, months: int, last_legal_day: str
) -> None:
    """FAA-H-8083-25, chapter on aircraft documents, inspections."""
    assert due_day(Limit(Measure.MONTHS, months), done) == date.fromisoformat(last_legal_day)


def test_an_annual_inspection_is_lawful_on_the_last_day_of_its_month_and_not_the_day_after() -> None:
    """14 CFR 91.409(a)."""
    annual, done = Limit(Measure.MONTHS, 12), {Since.LAST_DONE: Mark(date(2025, 3, 15))}
    assert due_of(annual, Facts(date(2026, 3, 31), Mark(), done)).status is DueStatus.DUE
    assert due_of(annual, Facts(date(2026, 4, 1), Mark(), done)).status is DueStatus.OVERDUE


def test_altimeter_and_transponder_keep_their_own_24_months() -> None:
    """14 CFR 91.411(a)(1) and 91.413(a): two items, two dates."""
    assert due_day(Limit(Measure.MONTHS, 24, source="14 CFR 91.411(a)(1)"), "2024-02-05") == date(2026, 2, 28)
    assert due_day(Limit(Measure.MONTHS, 24, source="14 CFR 91.413(a)"), "2024-07-22") == date(2026, 7, 31)


@pytest.mark.parametrize(
    ("done", "last_day"),
    [("2025-01-15", "2025-02-14"), ("2024-02-10", "2024-03-11"), ("2025-02-10", "2025-03-12")],
)
def test_a_vor_check_counts_thirty_plain_days(done: str, last_day: str) -> None:
    """14 CFR 91.171(a)(2)."""
    assert due_day(Limit(Measure.DAYS, 30), done) == date.fromisoformat(last_day)


def test_beacon_inspection_comes_within_twelve_calendar_months() -> None:
    """14 CFR 91.207(d)."""
    assert due_day(Limit(Measure.MONTHS, 12), "2025-05-02") == date(2026, 5, 31)


BATTERY = first_of(
    Limit(Measure.USE_MINUTES, 60, since=Since.FITTED, more_than=True),
    Limit(Measure.DATE, date(2029, 6, 30)),
)


@pytest.mark.parametrize(
    ("used", "status"), [(25 + 20, "due_soon"), (25 + 20 + 15, "due_soon"), (25 + 20 + 15 + 1, "due")]
)
def test_a_beacon_battery_is_due_when_used_more_than_one_hour(used: int, status: str) -> None:
    """14 CFR 91.207(c)(1): more than one cumulative hour; sixty minutes are not yet more."""
    limit = Limit(Measure.USE_MINUTES, 60, since=Since.FITTED, more_than=True, soon=20)
    day = date(2026, 3, 2)
    facts = Facts(day, Mark(day, {"use_minutes": used}), {Since.FITTED: Mark(day, {"use_minutes": 0})})
    assert due_of(limit, facts).status.value == status


def test_a_beacon_battery_is_due_at_half_its_life_when_that_comes_first() -> None:
    """14 CFR 91.207(c)(2): ten years from 30 June 2024, half of it ends 30 June 2029."""
    fitted = Mark(date(2024, 6, 30), {"use_minutes": 0})
    facts = Facts(date(2029, 6, 30), Mark(None, {"use_minutes": 10}), {Since.FITTED: fitted})
    result = due_of(BATTERY, facts)
    assert (result.status, result.governing, result.due_day) == (DueStatus.DUE, "2", date(2029, 6, 30))


def test_half_the_useful_life_of_ten_years_is_sixty_months_to_the_same_day() -> None:
    """14 CFR 91.207(c)(2)."""
    half = Limit(Measure.MONTHS, 60, since=Since.FITTED, month_rule=MonthRule.SAME_DAY)
    day = date(2024, 6, 30)
    assert due_of(half, Facts(day, Mark(day), {Since.FITTED: Mark(day)})).due_day == date(2029, 6, 30)


def test_calibration_that_lapsed_before_the_test_shows_as_overdue_on_that_day() -> None:
    """14 CFR 135.427(b)(5), AMC M.A.402(d): test equipment is calibrated at set periods."""
    calibration = Limit(Measure.MONTHS, 12)
    done = {Since.LAST_DONE: Mark(date(2025, 1, 20))}
    assert due_of(calibration, Facts(date(2026, 1, 31), Mark(), done)).status is DueStatus.DUE
    assert due_of(calibration, Facts(date(2026, 2, 1), Mark(), done)).status is DueStatus.OVERDUE
