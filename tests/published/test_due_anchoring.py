"""Where the next interval starts: the published rules, which disagree with each other."""

from datetime import date
from fractions import Fraction

import pytest

from scheduling.due.anchor import window_edges
from scheduling.due.engine import due_of, first_of, next_after
from scheduling.due.terms import (
    Amount,
    AmountUnit,
    Anchor,
    DueStatus,
    Facts,
    Limit,
    Mark,
    Measure,
    NextResult,
    Overrun,
    Since,
    Variation,
    Window,
)
from tests.words import plain_lines

pytestmark = pytest.mark.published

DAY = date(2026, 3, 2)


def minutes(hours: str) -> int:
    whole, _, tenths = hours.partition(".")
    return int(whole) * 60 + int(tenths or 0) * 6


def hours_done(limit: Limit, due: str, done: str, *, en_route: bool = False) -> NextResult:
    assert isinstance(limit.interval, int)
    last = Mark(date(2025, 9, 1), {"hours": minutes(due) - limit.interval})
    facts = Facts(DAY, Mark(DAY, {"hours": minutes(done)}), {Since.LAST_DONE: last})
    return next_after(limit, facts, Mark(DAY, {"hours": minutes(done)}), en_route=en_route)


HUNDRED_HOURS = Limit(
    Measure.HOURS, 6000, anchor=Anchor.FROM_DUE, overrun=Overrun(Amount(600), True), source="14 CFR 91.409(b)"
)


@pytest.mark.parametrize(
    ("done", "en_route", "is_violation", "next_due"),
    [
        ("1300.0", False, False, "1400.0"),
        ("1304.5", True, False, "1400.0"),
        ("1310.0", True, False, "1400.0"),
        ("1310.1", True, True, "1400.0"),
        ("1304.5", False, True, "1400.0"),
        ("1295.0", False, False, "1395.0"),
    ],
)
def test_ten_hours_en_route_are_lawful_and_paid_back(
    done: str, en_route: bool, is_violation: bool, next_due: str
) -> None:
    """14 CFR 91.409(b); the early case follows from "within the preceding 100 hours"."""
    result = hours_done(HUNDRED_HOURS, "1300.0", done, en_route=en_route)
    assert result.is_violation is is_violation
    assert result.limits[0].next_due == minutes(next_due)


@pytest.mark.parametrize(
    ("anchor", "next_due", "source"),
    [
        (Anchor.FROM_DUE, "2100.0", "14 CFR 91.409(b)"),
        (Anchor.FROM_DUE, "2100.0", "AMC M.A.302(i), ED Decision 2015/024/R"),
        (Anchor.FROM_DONE, "2110.0", "ML.A.302(d)(1)"),
    ],
)
def test_three_rules_anchor_a_late_inspection_differently(anchor: Anchor, next_due: str, source: str) -> None:
    limit = Limit(Measure.HOURS, 6000, anchor=anchor, overrun=Overrun(Amount(600)), source=source)
    result = hours_done(limit, "2000.0", "2010.0")
    assert result.limits[0].next_due == minutes(next_due)
    assert result.is_violation is False


@pytest.mark.parametrize(("extended", "next_due"), [(True, "2100.0"), (False, "2110.0")])
def test_the_old_deadline_anchors_only_where_it_was_extended(extended: bool, next_due: str) -> None:
    """EASA published answers on ML.A.302: from the release date, but if extended from the old deadline."""
    limit = Limit(Measure.HOURS, 6000, anchor=Anchor.FROM_DUE_IF_EXTENDED)
    last = Mark(date(2025, 9, 1), {"hours": minutes("1900")})
    granted = Variation("1", minutes("2000"), Amount(600), "director", "parts late")
    facts = Facts(
        DAY,
        Mark(DAY, {"hours": minutes("2010")}),
        {Since.LAST_DONE: last},
        variations=(granted,) if extended else (),
    )
    result = next_after(limit, facts, Mark(DAY, {"hours": minutes("2010")}))
    assert result.limits[0].next_due == minutes(next_due)
    assert result.is_violation is not extended


def test_the_minimum_programme_lets_an_annual_run_one_month_or_ten_hours_over() -> None:
    """ML.A.302(d)(1), GM1 ML.A.302(c)(3): annual or 100 h, whichever first, tolerance one month or 10 h."""
    limits = first_of(
        Limit(Measure.MONTHS, 12, overrun=Overrun(Amount(1, AmountUnit.MONTHS))),
        Limit(Measure.HOURS, 6000, overrun=Overrun(Amount(600))),
    )
    last = {Since.LAST_DONE: Mark(date(2025, 3, 15), {"hours": minutes("1900")})}
    inside = due_of(limits, Facts(date(2026, 4, 30), Mark(None, {"hours": minutes("2010")}), last))
    assert inside.status is DueStatus.DUE
    assert inside.last_lawful_day == date(2026, 4, 30)
    assert (
        due_of(limits, Facts(date(2026, 5, 1), Mark(None, {"hours": minutes("1950")}), last)).status
        == "overdue"
    )
    assert due_of(limits, Facts(DAY, Mark(None, {"hours": minutes("2010.1")}), last)).status == "overdue"


WINDOW = Window(Fraction(10), cap=300)


@pytest.mark.parametrize(
    ("interval", "due", "done", "next_due"),
    [
        ("75", "1609.4", "1604.4", "1684.4"),
        ("75", "1609.4", "1614.4", "1684.4"),
        ("75", "1609.4", "1614.5", "1689.5"),
        ("75", "1609.4", "1604.3", "1679.3"),
        ("50", "1306.4", "1299.9", "1349.9"),
    ],
)
def test_the_symmetric_window_counts_from_due_inside_and_from_done_outside(
    interval: str, due: str, done: str, next_due: str
) -> None:
    """US Army TM 1-1500-328-23, recurring special inspections: 10 %, at most 5 flight hours."""
    limit = Limit(Measure.HOURS, minutes(interval), anchor=Anchor.WINDOW, window=WINDOW)
    assert hours_done(limit, due, done).limits[0].next_due == minutes(next_due)


@pytest.mark.parametrize(
    ("done", "next_due"),
    [
        ("1999-01-13", "1999-07-31"),
        ("1999-02-18", "1999-07-31"),
        ("1999-01-12", "1999-07-31"),
        ("1999-02-19", "1999-08-31"),
    ],
)
def test_a_six_month_item_has_eighteen_days_on_both_sides(done: str, next_due: str) -> None:
    """TM 1-1500-328-23: due 31 Jan 1999, window 13 Jan to 18 Feb, next 31 Jul."""
    limit = Limit(Measure.MONTHS, 6, anchor=Anchor.WINDOW, window=Window(Fraction(10), cap=30))
    day = date.fromisoformat(done)
    facts = Facts(day, Mark(day), {Since.LAST_DONE: Mark(date(1998, 7, 31))})
    result = due_of(limit, facts)
    assert "Window: 13 Jan 1999 to 18 Feb 1999." in plain_lines(result.explanation)
    assert next_after(limit, facts, Mark(day)).limits[0].next_due == date.fromisoformat(next_due)


DUAL = first_of(
    Limit(Measure.HOURS, 600, anchor=Anchor.WINDOW, window=Window(Fraction(10), cap=300)),
    Limit(Measure.DAYS, 14, anchor=Anchor.WINDOW, window=Window(Fraction(10), cap=30)),
)


def dual_facts(today: date, hours: str) -> Facts:
    last = Mark(date(1997, 5, 22), {"hours": minutes("1709")})
    return Facts(today, Mark(today, {"hours": minutes(hours)}), {Since.LAST_DONE: last})


def test_ten_hours_or_fourteen_days_are_reckoned_each_for_itself() -> None:
    """TM 1-1500-328-23 para 2-10: 1719 h or 5 June 1997; windows 1718 to 1720 h and 4 to 6 June."""
    result = due_of(DUAL, dual_facts(date(1997, 6, 1), "1712"))
    assert [due.due_at for due in result.limits] == [minutes("1719"), date(1997, 6, 5)]
    assert window_edges(result.limits[0]) == (minutes("1718"), minutes("1720"))
    assert window_edges(result.limits[1]) == (date(1997, 6, 4), date(1997, 6, 6))


def test_only_the_side_inside_its_window_counts_from_due() -> None:
    """TM 1-1500-328-23 para 2-10."""
    done = Mark(date(1997, 6, 4), {"hours": minutes("1715")})
    result = next_after(DUAL, dual_facts(date(1997, 6, 4), "1715"), done)
    assert [step.next_due for step in result.limits] == [minutes("1725"), date(1997, 6, 19)]
