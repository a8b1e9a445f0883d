"""Days, counters and amounts in words: one wording for screen, paper, programs and mail. Pure."""

from __future__ import annotations

from datetime import date

from fleet.common.wording import MONTHS, counted, day, hours
from scheduling.due.terms import (
    CALENDAR,
    IN_MINUTES,
    Amount,
    AmountUnit,
    Limit,
    Measure,
    MonthDay,
    MonthRule,
    Point,
    SeasonEdge,
    Since,
)

MEASURE_NAMES = {
    Measure.DAYS: "days",
    Measure.MONTHS: "calendar months",
    Measure.DATE: "fixed date",
    Measure.SEASON: "season date",
    Measure.HOURS: "flight hours",
    Measure.LANDINGS: "landings",
    Measure.CYCLES: "engine cycles",
    Measure.USES: "uses",
    Measure.FLIGHT_DAYS: "flight days",
    Measure.USE_MINUTES: "time in use",
}

SINCE_NAMES = {
    Since.LAST_DONE: "last done",
    Since.FITTED: "fitted",
    Since.NEW: "new",
    Since.OVERHAUL: "overhauled",
    Since.EVENT: "the event",
}

COUNTED_ONE = {
    Measure.LANDINGS: ("landing", "landings"),
    Measure.CYCLES: ("engine cycle", "engine cycles"),
    Measure.USES: ("use", "uses"),
    Measure.FLIGHT_DAYS: ("flight day", "flight days"),
}


def size_words(measure: Measure, number: int) -> str:
    """An amount of a measure: 750 minutes of hours is "12:30 h", 1 landing is "1 landing"."""
    if measure in IN_MINUTES:
        return hours(number)
    if measure in CALENDAR:
        return counted(number, "day", "days")
    return counted(number, *COUNTED_ONE[measure])


def amount_words(measure: Measure, amount: Amount) -> str:
    """How far a limit may move: `Amount(1, MONTHS)` is "1 month"."""
    if amount.unit is AmountUnit.MONTHS:
        return counted(amount.value, "month", "months")
    return size_words(measure, amount.value)


def point_words(measure: Measure, point: Point) -> str:
    """A point on a measure: "1 350:00 h", "2 400 landings", "31 Mar 2026"."""
    return day(point) if isinstance(point, date) else size_words(measure, point)


def place_words(measure: Measure, point: Point) -> str:
    """A point with its preposition: "at 1 350:00 h", "on 31 Mar 2026"."""
    return f"{'on' if isinstance(point, date) else 'at'} {point_words(measure, point)}"


def interval_words(limit: Limit, amount: int | None = None) -> str:
    """The interval of a limit: "12 calendar months to the end of the month", "200:00 h", "by 30 Jun 2026"."""
    interval = limit.interval
    if isinstance(interval, date):
        return f"by {day(interval)}"
    if isinstance(interval, SeasonEdge):
        return f"by the day the icing season {interval.value}"
    if isinstance(interval, MonthDay):
        return f"by {interval.day} {MONTHS[interval.month - 1]} (six months later in the south)"
    number = interval if amount is None else amount
    more = "more than " if limit.more_than else ""
    if limit.measure is Measure.MONTHS:
        months = counted(number, "calendar month", "calendar months")
        ends = "to the end of the month" if limit.month_rule is MonthRule.END_OF_MONTH else "to the same day"
        return f"{more}{months} {ends}"
    return f"{more}{size_words(limit.measure, number)}"
