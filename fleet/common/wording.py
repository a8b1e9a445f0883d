"""How values are written for people, the same on screens, paper and in mail. Pure.

The space inside a number and before its unit is a no-break space (U+00A0), the minus a real one (U+2212).
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

SPACE = "\u00a0"
MINUS = "\u2212"
NOTHING = "not recorded"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

_WHOLE_PART = re.compile(r"^(-?)(\d+)(.*)$")


def grouped(number: int | str | Decimal) -> str:
    """Digits in threes before the point, decimals as written: `grouped("-12500.50")` is "−12 500.50"."""
    text = format(number, "f") if isinstance(number, Decimal) else str(number)
    found = _WHOLE_PART.match(text)
    if found is None:
        return text
    sign, whole, rest = found.groups()
    return f"{MINUS if sign else ''}{int(whole):,}{rest}".replace(",", SPACE)


def hours(minutes: int) -> str:
    """Whole minutes as hours: `hours(78270)` is "1 304:30 h", `hours(-30)` is "−0:30 h"."""
    sign = MINUS if minutes < 0 else ""
    return f"{sign}{grouped(abs(minutes) // 60)}:{abs(minutes) % 60:02d}{SPACE}h"


def day(value: date) -> str:
    """`day(date(2026, 3, 14))` is "14 Mar 2026"."""
    return f"{value.day}{SPACE}{MONTHS[value.month - 1]}{SPACE}{value.year}"


def weekday(value: date) -> str:
    """`weekday(date(2026, 3, 14))` is "Sat 14 Mar"."""
    return f"{DAYS[value.weekday()]}{SPACE}{value.day}{SPACE}{MONTHS[value.month - 1]}"


def zone_name(value: datetime) -> str:
    """The zone's letters, or its offset where it has none: "CET", "UTC+05:45"."""
    name = value.tzname() or ""
    if name.isalpha():
        return name
    offset = value.utcoffset() or timedelta()
    minutes = int(offset.total_seconds()) // 60
    return f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def moment(value: datetime, zone: str = "UTC") -> str:
    """An aware moment at a place: 08:30 UTC in Europe/Oslo in March is "14 Mar 2026, 09:30 CET".

    Raises ValueError for a moment that names no zone.
    """
    if value.tzinfo is None:
        raise ValueError(f"{value} names no time zone")
    local = value.astimezone(ZoneInfo(zone))
    return f"{day(local.date())}, {clock(value, zone)}"


def clock(value: datetime, zone: str = "UTC") -> str:
    """The time of day at a place with its zone: "09:30 CET"."""
    if value.tzinfo is None:
        raise ValueError(f"{value} names no time zone")
    local = value.astimezone(ZoneInfo(zone))
    return f"{local:%H:%M}{SPACE}{zone_name(local)}"


def quantity(value: int | str | Decimal, unit: str) -> str:
    """A number with its unit: `quantity(Decimal("12.50"), "V")` is "12.50 V"."""
    return f"{grouped(value)}{SPACE}{unit}" if unit else grouped(value)


def counted(number: int, one: str, many: str = "") -> str:
    """A number of things: `counted(2, "battery", "batteries")` is "2 batteries"."""
    word = one if abs(number) == 1 else many or f"{one}s"
    return f"{grouped(number)}{SPACE}{word}"


def days_left(number: int) -> str:
    """`days_left(3)` is "3 days left", `days_left(0)` "today", `days_left(-1)` "1 day over"."""
    if number == 0:
        return "today"
    return f"{counted(abs(number), 'day')} {'left' if number > 0 else 'over'}"


def hours_left(minutes: int) -> str:
    """`hours_left(750)` is "12:30 h left", `hours_left(-130)` "2:10 h over", `hours_left(0)` "none left"."""
    return "none left" if minutes == 0 else f"{hours(abs(minutes))} {'left' if minutes > 0 else 'over'}"


def number_left(number: int, one: str, many: str = "") -> str:
    """`number_left(40, "landing")` is "40 landings left", `number_left(-1, "landing")` "1 landing over"."""
    if number == 0:
        return "none left"
    return f"{counted(abs(number), one, many)} {'left' if number > 0 else 'over'}"


def span(seconds: int) -> str:
    """A length of time: `span(95)` is "1 min 35 s", `span(7200)` is "2 h 0 min"."""
    whole_minutes, rest = divmod(abs(seconds), 60)
    if whole_minutes >= 60:
        return f"{whole_minutes // 60}{SPACE}h {whole_minutes % 60}{SPACE}min"
    return f"{whole_minutes}{SPACE}min {rest}{SPACE}s" if whole_minutes else f"{rest}{SPACE}s"
