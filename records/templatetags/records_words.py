"""Filters of the records screens: lengths of time, outcomes, answers."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django import template

from fleet.common.wording import day, moment
from records.screens.parts import level_of, outcome_words
from records.selectors.answer_words import seconds_words

register = template.Library()


@register.filter
def length_words(seconds: Decimal | int | None) -> str:
    """Seconds as people say them: 240 is "4 min", 0.5 is "0.5 s"."""
    if seconds is None:
        return ""
    words = seconds_words(Decimal(seconds))
    return words.removesuffix(" 0\u00a0s") or "0\u00a0s"


@register.filter
def outcome(word: str) -> str:
    """An outcome as it is written on a record: "FAIL"."""
    return outcome_words(word)


@register.filter
def outcome_level(word: str) -> str:
    """The level of the mark beside an outcome."""
    return level_of(word)


@register.filter
def written_day(text: str) -> str:
    """A day as it is sealed, "2026-01-15", in words."""
    return day(date.fromisoformat(text))


@register.filter
def written_moment(text: str, zone: str = "UTC") -> str:
    """A moment as it is sealed, "2026-01-15T09:30:00Z", in the words of a place."""
    return moment(datetime.fromisoformat(text), zone)
