"""Where a complaint about a procedure's data stands in its editor."""

from __future__ import annotations

from django.forms import Form

from fleet.common.errors import Reason, Refusal
from scheduling.screens.procedure_data import AMOUNTS

OTHER_NAMES = {
    "fluid.minimum": "fluid_minimum",
    "fluid.unit": "fluid_unit",
    "fluid.note": "fluid_note",
    "normalise.seconds": "normalise_seconds",
    "normalise.most_percent": "normalise_percent",
    "limit.basis": "basis",
    "limit.rounding": "rounding",
    "limit.kind": "limit_kind",
    "limit.unit": "unit",
    "when": "when_all",
    "of": "of_first",
    "points": "point_left",
    "nominal": "trend_nominal",
}


def place_reasons(refusal: Refusal, form: Form, rows: dict[str, list[Form]]) -> None:
    """Each reason beside its field: `content.steps.3.seconds` is the fourth step's seconds."""
    for reason in refusal.reasons:
        place, name = _place(reason, form, rows)
        words = reason.detail if not reason.value else f"“{reason.value}” {reason.detail}"
        sentence = f"{words[0].upper()}{words[1:]}. {_sentence(reason.remedy)}".strip()
        where = _where(reason)
        if place is form and where:
            place.add_error(None, f"{where}: {sentence}")
        else:
            place.add_error(name, sentence)
    _point_at_rows(form, rows)
    if not refusal.reasons:
        form.add_error(None, refusal.sentence)


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}." if words else ""


def _place(reason: Reason, form: Form, rows: dict[str, list[Form]]) -> tuple[Form, str | None]:
    path = reason.field.removeprefix("content.")
    kind, _, rest = path.partition(".")
    index, _, name = rest.partition(".")
    if kind in rows and index.isdigit() and int(index) < len(rows[kind]):
        row = rows[kind][int(index)]
        return row, _field_name(kind, name, row)
    name = OTHER_NAMES.get(path, path)
    return form, name if name in form.fields else None


def _field_name(kind: str, name: str, row: Form) -> str | None:
    if name.startswith("limit."):
        of_kind = AMOUNTS.get(str(row["limit_kind"].value()), {})
        theirs = {written: ours for ours, written in of_kind.items()}
        theirs |= {"maximum_percent": "high", "maximum": "high"}
        found = theirs.get(name.removeprefix("limit.")) or OTHER_NAMES.get(name, "limit_kind")
    elif name in ("key", "role") and kind != "points":
        found = "title" if "title" in row.fields else "name"
    elif name == "key":
        found = "name"
    elif name in row.fields and (kind, name) != ("points", "nominal"):
        found = name
    else:
        found = OTHER_NAMES.get(name, name)
    return found if found in row.fields else None


def _where(reason: Reason) -> str:
    """The list a complaint is about, where it names no row."""
    words = {"steps": "Steps", "points": "Points", "equipment": "Equipment"}
    return words.get(reason.field.removeprefix("content."), "")


def _point_at_rows(form: Form, rows: dict[str, list[Form]]) -> None:
    """The summary on top says which rows need another look."""
    words = {"equipment": "tool", "points": "point", "steps": "step"}
    for name, made in rows.items():
        for number, row in enumerate(made, start=1):
            if row.errors:
                form.add_error(None, f"Look at {words[name]} {number}: {_first(row)}")


def _first(row: Form) -> str:
    name, errors = next(iter(row.errors.items()))
    label = row.fields[name].label if name in row.fields else ""
    return f"{label}: {errors[0]}" if label else str(errors[0])
