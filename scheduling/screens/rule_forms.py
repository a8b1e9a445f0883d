"""The form of a trigger rule: its frame, its condition, and the tasks it raises as rows."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.common.actor import Actor
from fleet.quantities import plain_number
from fleet.screens.base import offer
from scheduling.gather.rules import known_for, option_names, where_known
from scheduling.models import TriggerRule
from scheduling.screens.rows import Row
from scheduling.selectors.events import event_kinds
from scheduling.selectors.procedures import procedures
from scheduling.selectors.rules import names_of
from scheduling.triggers.describe import BEFORE_CHOICES

TICKS = forms.CheckboxSelectMultiple
LISTS = ("positions", "component_types", "options_required", "options_absent", "aircraft_types")
BLANK: Row = {
    "order": "",
    "procedure_code": "",
    "title": "",
    "before": "next_icing_flight",
    "amount": "",
    "reason": "",
    "per_position": "",
}


class RuleForm(forms.Form):
    """The frame and the condition of a rule."""

    code = forms.SlugField(
        label="Code", max_length=40, help_text="Small letters, digits and hyphens, such as after-panel."
    )
    title = forms.CharField(label="Title", max_length=120)
    event_kind = forms.ChoiceField(label="After which kind of event")
    source = forms.CharField(
        label="Source", max_length=160, help_text="The document that asks for it, with its revision."
    )
    positions = forms.CharField(
        label="Only at these positions",
        required=False,
        help_text="Codes or how codes begin, separated by commas. Empty: everywhere.",
    )
    component_types = forms.MultipleChoiceField(
        label="Only for these kinds of component", required=False, widget=TICKS
    )
    aircraft_types = forms.MultipleChoiceField(label="Only on these types", required=False, widget=TICKS)
    options_required = forms.MultipleChoiceField(label="Only where fitted", required=False, widget=TICKS)
    options_absent = forms.MultipleChoiceField(label="Only where not fitted", required=False, widget=TICKS)

    def __init__(self, *args: Any, actor: Actor, is_new: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names, places = names_of(actor), where_known(actor.operator_id)
        offer(self, "event_kind", event_kinds(actor).values_list("code", "name"))
        for name, codes in (
            ("component_types", places.component_types),
            ("aircraft_types", places.aircraft_types),
            ("options_required", option_names(actor.operator_id)),
            ("options_absent", option_names(actor.operator_id)),
        ):
            offer(self, name, [(code, names.get(code, code)) for code in sorted(codes)])
        self.fields["positions"].widget.attrs["list"] = "position-codes"
        if not is_new:
            del self.fields["code"]


class RaiseForm(forms.Form):
    """One task of a rule."""

    order = forms.CharField(label="Order", required=False, widget=forms.TextInput({"inputmode": "numeric"}))
    procedure_code = forms.ChoiceField(label="Procedure", required=False)
    title = forms.CharField(label="Title of the task", required=False, max_length=160)
    before = forms.ChoiceField(
        label="By when",
        required=False,
        choices=[(kind.value, words) for kind, words in BEFORE_CHOICES.items()],
    )
    amount = forms.CharField(
        label="Days or flight hours", required=False, widget=forms.TextInput({"inputmode": "numeric"})
    )
    reason = forms.CharField(label="Why, in a few words", required=False, max_length=200)
    per_position = forms.BooleanField(label="One task for each position", required=False)

    def __init__(self, *args: Any, choices: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "procedure_code", [("", "Choose a procedure"), *choices])


def procedure_choices(actor: Actor) -> list[tuple[str, str]]:
    """Code and title of every procedure in force."""
    in_force = known_for(actor.operator_id).procedure_codes or ()
    return [(p.code, p.title) for p in procedures(actor) if p.code in in_force]


def content_of(frame: dict[str, Any], rows: list[Row], titles: dict[str, str]) -> dict[str, Any]:
    """The rule's data from the form; a title left out is the procedure's own."""
    positions = [part.strip() for part in frame.get("positions", "").split(",") if part.strip()]
    where = {name: frame.get(name) or [] for name in LISTS[1:]} | {"positions": positions}
    return {
        "where": {name: value for name, value in where.items() if value},
        "raises": [_raise(row, index, titles) for index, row in enumerate(rows, start=1)],
    }


def _raise(row: Row, place: int, titles: dict[str, str]) -> dict[str, Any]:
    code = row["procedure_code"]
    before: dict[str, Any] = {"kind": row["before"]}
    if row["before"].startswith("within"):
        before["amount"] = _whole(row["amount"])
    return {
        "order": _whole(row["order"]) if row["order"] else place,
        "procedure_code": code,
        "title": row["title"].strip() or titles.get(code, ""),
        "before": before,
        **({"reason": row["reason"].strip()} if row["reason"].strip() else {}),
        **({"per_position": True} if row["per_position"] else {}),
    }


def _whole(written: str) -> Any:
    number = plain_number(written)
    return written if number is None else number


def form_data_of(rule: TriggerRule) -> tuple[dict[str, Any], list[Row]]:
    """A stored rule as the form shows it."""
    where = rule.content.get("where") or {}
    frame = {
        "title": rule.title,
        "event_kind": rule.event_kind.code,
        "source": rule.source,
        "positions": ", ".join(where.get("positions", ())),
        **{name: where.get(name, []) for name in LISTS[1:]},
    }
    rows = [
        {
            "order": raised["order"],
            "procedure_code": raised["procedure_code"],
            "title": raised["title"],
            "before": raised["before"]["kind"],
            "amount": raised["before"].get("amount", ""),
            "reason": raised.get("reason", ""),
            "per_position": "on" if raised.get("per_position") else "",
        }
        for raised in rule.content["raises"]
    ]
    return frame, rows
