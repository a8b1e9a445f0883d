"""Editable rows of a form without scripts: every button posts the whole form, the answer shows the rows changed.

A row's fields are named `steps-2-title`; `steps-rows` says how many there are. A button named `do` says what to
do: `steps:add`, `steps:after:2`, `steps:remove:2`, `steps:up:2`, `steps:down:2`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.quantities import plain_number

MOST_ROWS = 200
Row = dict[str, Any]


def rows_from(post: QueryDict, name: str, form: type[forms.Form]) -> list[Row]:
    """The rows of one kind as they were posted; lists stay lists."""
    number = min(plain_number(post.get(f"{name}-rows", "")) or 0, MOST_ROWS)
    return [_row(post, f"{name}-{index}", form) for index in range(number)]


def _row(post: QueryDict, prefix: str, form: type[forms.Form]) -> Row:
    row: Row = {}
    for name, field in form.base_fields.items():
        key = f"{prefix}-{name}"
        many = isinstance(field, forms.MultipleChoiceField)
        row[name] = post.getlist(key) if many else post.get(key, "")
    return row


def changed(rows: list[Row], name: str, command: str, blank: Mapping[str, Any]) -> list[Row]:
    """The rows after a command; one that is not for these rows leaves them as they are."""
    kind, _, rest = command.partition(":")
    act, _, place = rest.partition(":")
    if kind != name:
        return rows
    done = list(rows)
    if act == "add":
        return [*done, dict(blank)]
    index = plain_number(place)
    if index is None or index >= len(done):
        return rows
    if act == "after":
        done.insert(index + 1, dict(blank))
    elif act == "remove":
        del done[index]
    elif act in ("up", "down"):
        other = index - 1 if act == "up" else index + 1
        if 0 <= other < len(done):
            done[index], done[other] = done[other], done[index]
    return done


def forms_of(rows: list[Row], name: str, form: type[forms.Form], **given: Any) -> list[forms.Form]:
    """A form for each row, filled with what stands in it; errors may be added beside its fields."""
    made = []
    for index, row in enumerate(rows):
        data = QueryDict(mutable=True)
        for key, value in row.items():
            data.setlist(f"{name}-{index}-{key}", value if isinstance(value, list) else [str(value)])
        made.append(form(data, prefix=f"{name}-{index}", **given))
    return made
