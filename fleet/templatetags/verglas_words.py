"""Filters: values in words, by `fleet.common.wording`; nothing recorded is said, not left blank."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal

from django import template

from fleet.common import wording

register = template.Library()


def or_nothing(write: Callable[..., str], value: object, *rest: str) -> str:
    return wording.NOTHING if value is None or value == "" else write(value, *rest)


@register.filter
def hours(value: int | None) -> str:
    return or_nothing(wording.hours, value)


@register.filter
def hours_left(value: int | None) -> str:
    return or_nothing(wording.hours_left, value)


@register.filter
def day(value: date | None) -> str:
    return or_nothing(wording.day, value.date() if isinstance(value, datetime) else value)


@register.filter
def weekday(value: date | None) -> str:
    return or_nothing(wording.weekday, value)


@register.filter
def days_left(value: int | None) -> str:
    return or_nothing(wording.days_left, value)


@register.filter
def moment(value: datetime | None, zone: str = "UTC") -> str:
    return or_nothing(wording.moment, value, zone or "UTC")


@register.filter
def clock(value: datetime | None, zone: str = "UTC") -> str:
    return or_nothing(wording.clock, value, zone or "UTC")


@register.filter
def quantity(value: int | str | Decimal | None, unit: str = "") -> str:
    return or_nothing(wording.quantity, value, unit)


@register.filter
def grouped(value: int | str | Decimal | None) -> str:
    return or_nothing(wording.grouped, value)


@register.filter
def counted(value: int | None, words: str) -> str:
    """`{{ n|counted:"task" }}` or, for an uneven plural, `{{ n|counted:"battery,batteries" }}`."""
    return or_nothing(wording.counted, value, *words.split(","))


@register.filter
def number_left(value: int | None, words: str) -> str:
    return or_nothing(wording.number_left, value, *words.split(","))


@register.filter
def span(value: int | None) -> str:
    return or_nothing(wording.span, value)


@register.filter
def or_missing(value: object, words: str = wording.NOTHING) -> object:
    """The value itself, or words where there is none."""
    return words if value is None or value == "" else value
