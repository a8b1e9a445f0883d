"""Days, calendar months and season dates. Months are counted from the anchor, never step by step. Pure."""

from __future__ import annotations

import calendar as civil
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduling.due.terms import MonthDay, MonthRule, Season, SeasonEdge

HALF_A_YEAR = 183


def last_of_month(year: int, month: int) -> int:
    """The number of days of a month: `last_of_month(2024, 2)` is 29."""
    return civil.monthrange(year, month)[1]


def end_of_month(day: date) -> date:
    """The last day of the month of `day`: 10 February 2024 gives 29 February 2024."""
    return day.replace(day=last_of_month(day.year, day.month))


def add_months(day: date, months: int, rule: MonthRule) -> date:
    """The last day of `months` calendar months from `day`.

    End of month: 29 February 2024 and 12 months give 28 February 2025; 10 February 2023 gives 29
    February 2024. Same day: 31 January 2025 and one month give 28 February 2025. Raises OverflowError
    past the year 9999.
    """
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    if not date.min.year <= year <= date.max.year:
        raise OverflowError(f"{months} months from {day.isoformat()} leave the calendar")
    last = last_of_month(year, month + 1)
    wanted = last if rule is MonthRule.END_OF_MONTH else min(day.day, last)
    return date(year, month + 1, wanted)


def months_between(start: date, end: date) -> int:
    """Calendar months from the month of `start` to the month of `end`: 31 Jan to 1 Mar is 2."""
    return (end.year - start.year) * 12 + end.month - start.month


def add_days(day: date, days: int) -> date:
    """Plain days, the first day not counted: 15 January 2025 and 30 days give 14 February 2025."""
    return day + timedelta(days=days)


def day_in_year(month_day: MonthDay, year: int) -> date:
    """That day in that year: 29 February in 2025 is 28 February 2025."""
    return date(year, month_day.month, min(month_day.day, last_of_month(year, month_day.month)))


def season_day(wanted: MonthDay | SeasonEdge, season: Season | None) -> MonthDay | None:
    """The day of the year meant at a base, or None when its season is not known.

    A written day is a northern one and moves six months in the south: 1 October there is 1 April.
    `begins` and `ends` are the base's own.
    """
    if season is None:
        return None
    if wanted is SeasonEdge.BEGINS:
        return season.begins
    if wanted is SeasonEdge.ENDS:
        return season.ends
    assert isinstance(wanted, MonthDay)  # noqa: S101 - narrows the type, the other two are answered above
    if not season.is_southern:
        return wanted
    month = (wanted.month + 5) % 12 + 1
    return MonthDay(month, min(wanted.day, last_of_month(2024, month)))


def first_season_date(wanted: MonthDay, after: date) -> date:
    """The first such day on or after `after`: 1 October seen from 2 October 2025 is 1 October 2026."""
    this_year = day_in_year(wanted, after.year)
    return this_year if this_year >= after else day_in_year(wanted, after.year + 1)


def next_season_date(wanted: MonthDay, done: date, early: int) -> date:
    """The season date after the one this work counts for; work up to `early` days before a date counts
    for it.

    1 October with 60 days: done 15 September 2025 gives 1 October 2026, done 1 May 2025 gives 1 October 2025.
    """
    return first_season_date(wanted, add_days(done, early + 1))


def end_of_day(day: date, zone: ZoneInfo) -> datetime:
    """The midnight that ends a day in a zone, as an aware moment: 00:00 of the day after."""
    return datetime.combine(add_days(day, 1), time(0), zone)


def last_day_exclusive(recorded: date, days: int) -> date:
    """The last of so many days that follow, the day of record not counted: 26 January and 3 give 29
    January."""
    return add_days(recorded, days)
