"""What every verdict of the trend room shares: plain words, a plain dictionary, and number checks. Pure."""

import dataclasses
import math
from datetime import date
from enum import StrEnum
from typing import Any

from fleet.quantities import refused

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class Worded:
    """A verdict that can say itself in one or a few plain sentences and turn into a plain dictionary."""

    __slots__ = ()

    @property
    def words(self) -> str:
        """The verdict as a person would say it."""
        raise NotImplementedError

    def to_dict(self) -> dict[str, Any]:
        """Fields and words as JSON knows them: dates as ISO text, enums as text, no NaN or infinity."""
        plain = _plain(self)
        assert isinstance(plain, dict)  # noqa: S101 - a dataclass always turns into a dictionary
        return plain


def _plain(value: object) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return fields | {"words": value.words} if isinstance(value, Worded) else fields
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def day_in_words(day: date) -> str:
    """A date as the house writes it, whatever the machine's locale.

    >>> day_in_words(date(2026, 3, 14))
    '14 Mar 2026'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def counted(number: int, noun: str) -> str:
    """A number with its noun in the right form.

    >>> counted(1, "test"), counted(3, "test")
    ('1 test', '3 tests')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def finite(field: str, value: float) -> float:
    """The value itself, or a refusal where it is NaN or infinite (a NaN would compare as "not failed")."""
    if not math.isfinite(value):
        raise refused(
            "not_finite", field, value, "is not a finite number", "correct it, or leave the test out"
        )
    return value


def positive(field: str, value: float) -> float:
    """The value itself, or a refusal where it is not a finite number above zero."""
    if finite(field, value) <= 0:
        raise refused("not_positive", field, value, "must be above zero", "give a number above zero")
    return value
