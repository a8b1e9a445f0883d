"""Single written values of a limit, read exactly, every fault collected with field, value and remedy.
Pure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeVar

from fleet.common.errors import Invalid, Reason
from fleet.quantities import RefusedInput, format_minutes, parse_hours
from scheduling.due.calendar import last_of_month
from scheduling.due.terms import CALENDAR, IN_MINUTES, Amount, AmountUnit, Measure, MonthDay, SeasonEdge

Choice = TypeVar("Choice", bound=StrEnum)

LARGEST = {Measure.DAYS: 36_525, Measure.MONTHS: 1_200}
LARGEST_COUNT = 100_000_000


class LimitError(Invalid, ValueError):
    """Limits that make no sense. `problems` lists (field path, value, remedy); `reasons` the same for a
    form."""

    @property
    def problems(self) -> tuple[tuple[str, str, str], ...]:
        """What is wrong: `(("of[0].every", "0", "write one or more"),)`."""
        return tuple((reason.field, reason.value, reason.remedy) for reason in self.reasons)


class Faults:
    """Collects what is wrong, so that one answer names all of it."""

    def __init__(self) -> None:
        self.reasons: list[Reason] = []

    def add(self, field: str, value: object, detail: str, remedy: str) -> None:
        """Note one fault: where, what was given, what is wrong with it and what to do."""
        self.reasons.append(Reason(detail=detail, field=field, value=str(value)[:60], remedy=remedy))

    def raise_if_any(self) -> None:
        """Raise LimitError when anything was noted."""
        if self.reasons:
            raise LimitError("limits_make_no_sense", self.reasons[0].sentence(), *self.reasons)


def read_choice(given: object, kind: type[Choice], field: str, faults: Faults) -> Choice | None:
    try:
        return kind(given)  # type: ignore[arg-type]
    except ValueError:
        faults.add(field, given, "is not known", f"use one of {', '.join(one.value for one in kind)}")
        return None


def read_flag(data: Mapping[str, Any], name: str, field: str, faults: Faults) -> bool:
    given = data.get(name, False)
    if not isinstance(given, bool):
        faults.add(f"{field}.{name}", given, "is neither true nor false", "write true or false")
        return False
    return given


def read_text(given: object, field: str, faults: Faults) -> str:
    if given is None:
        return ""
    if not isinstance(given, str) or len(given) > 500:
        faults.add(field, given, "is no short text", "write up to 500 characters")
        return ""
    return given.strip()


def read_interval(
    given: object, measure: Measure, field: str, faults: Faults
) -> int | date | MonthDay | SeasonEdge | None:
    if measure is Measure.DATE:
        return _date(given, field, faults)
    if measure is Measure.SEASON:
        return _season(given, field, faults)
    return read_size(given, measure, field, faults)


def _date(given: object, field: str, faults: Faults) -> date | None:
    if isinstance(given, str):
        try:
            return date.fromisoformat(given)
        except ValueError:
            pass
    faults.add(field, given, "is no date", "write year-month-day, such as 2026-06-30")
    return None


def _season(given: object, field: str, faults: Faults) -> MonthDay | SeasonEdge | None:
    if isinstance(given, str):
        if given in (SeasonEdge.BEGINS, SeasonEdge.ENDS):
            return SeasonEdge(given)
        month, _, day = given.partition("-")
        if len(given) == 5 and month.isascii() and day.isascii() and month.isdigit() and day.isdigit():
            number = int(month)
            if 1 <= number <= 12 and 1 <= int(day) <= last_of_month(2024, number):
                return MonthDay(number, int(day))
    faults.add(field, given, "is no day of the year", 'write month-day such as "10-01", "begins" or "ends"')
    return None


def read_size(given: object, measure: Measure, field: str, faults: Faults, least: int = 1) -> int | None:
    number = (
        _minutes(given, field, faults) if measure in IN_MINUTES else _whole(given, field, measure, faults)
    )
    if number is None:
        return None
    if number < least:
        faults.add(field, given, "is zero or below", "write a limit above zero")
        return None
    if number > LARGEST.get(measure, LARGEST_COUNT):
        faults.add(field, given, "is larger than any limit", "check the number and its unit")
        return None
    return number


def _minutes(given: object, field: str, faults: Faults) -> int | None:
    if not isinstance(given, str):
        faults.add(field, given, "does not say hours and minutes", 'write hours as text, such as "200:00"')
        return None
    if given.strip().startswith("-"):
        faults.add(field, given, "is below zero", "write a limit above zero")
        return None
    try:
        return parse_hours(given, field=field)
    except RefusedInput as refusal:
        faults.reasons.extend(refusal.reasons)
        return None


def _whole(given: object, field: str, measure: Measure, faults: Faults) -> int | None:
    if isinstance(given, int) and not isinstance(given, bool):
        return given
    if isinstance(given, str) and given.isascii() and given.removeprefix("-").isdigit() and len(given) < 12:
        return int(given)
    remedy = "write whole calendar months" if measure is Measure.MONTHS else "write a whole number"
    faults.add(field, given, "is not a whole number", remedy)
    return None


def read_warning(given: object, measure: Measure, field: str, faults: Faults) -> int | None:
    if given is None:
        return None
    unit = Measure.DAYS if measure in CALENDAR else measure
    return read_size(given, unit, field, faults, least=0)


def read_early(given: object, field: str, faults: Faults) -> int | None:
    return None if given is None else read_size(given, Measure.DAYS, field, faults, least=0)


def amount_from_data(given: object, measure: Measure, field: str, faults: Faults) -> Amount | None:
    """Read an amount: "10:00" for hours, 25 for landings, 18 days or {"months": 1} for calendar limits."""
    if isinstance(given, Mapping):
        if set(given) != {"months"} or measure not in CALENDAR:
            faults.add(
                field, given, "is no amount for this measure", 'write a size, or {"months": 1} for months'
            )
            return None
        months = read_size(given["months"], Measure.MONTHS, f"{field}.months", faults)
        return None if months is None else Amount(months, AmountUnit.MONTHS)
    unit = Measure.DAYS if measure in CALENDAR else measure
    size = read_size(given, unit, field, faults)
    return None if size is None else Amount(size)


def percent_from_data(given: object, field: str, faults: Faults) -> Fraction | None:
    """Read a per cent as an exact fraction: "10" or "7.5". Refuses zero, 100 and above, and floats."""
    if isinstance(given, str | int) and not isinstance(given, bool) and len(str(given)) < 12:
        try:
            percent = Fraction(str(given))
        except (ValueError, ZeroDivisionError):
            percent = Fraction(0)
        if 0 < percent < 100:
            return percent
    faults.add(
        f"{field}.percent", given, "is no per cent", 'write more than 0 and less than 100, such as "10"'
    )
    return None


def size_to_data(measure: Measure, number: int) -> int | str:
    return format_minutes(number) if measure in IN_MINUTES else number


def amount_to_data(measure: Measure, amount: Amount) -> int | str | dict[str, int]:
    """An amount as plain written data: what `amount_from_data` reads back."""
    if amount.unit is AmountUnit.MONTHS:
        return {"months": amount.value}
    return size_to_data(Measure.DAYS if measure in CALENDAR else measure, amount.value)
