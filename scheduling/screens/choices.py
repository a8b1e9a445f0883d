"""Choices of a form that are known only when it is shown."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms


def offer(form: forms.Form, name: str, choices: Iterable[tuple[Any, Any]]) -> None:
    """Give a field of a form what may be chosen."""
    field = form.fields[name]
    if not isinstance(field, forms.ChoiceField):
        raise TypeError(f"{name} offers no choices")
    field.choices = list(choices)
