"""The frame of the procedure editor: everything about a procedure that is not a row."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.common.actor import Actor
from fleet.models import Position
from fleet.screens.base import offer
from fleet.selectors.aircraft import aircraft_types
from scheduling.gather.rules import option_names
from scheduling.models import Consequence, EventKind
from scheduling.screens.procedure_rows import Offers
from scheduling.screens.rows import Row
from scheduling.selectors.events import event_kinds
from scheduling.services.procedures import Draft

FRAME = (
    "title",
    "approved_reference",
    "approved_revision",
    "ata",
    "consequence",
    "aircraft_type",
    "needs_countersignature",
    "is_inspection",
    "change_note",
)


class ProcedureForm(forms.Form):
    """Title, approved data, estimate, what it stops, purpose, cautions, fluid."""

    code = forms.SlugField(
        label="Code", max_length=40, help_text="Small letters, digits and hyphens, such as panel-purge."
    )
    title = forms.CharField(label="Title", max_length=120)
    aircraft_type = forms.ChoiceField(label="Type", required=False)
    approved_reference = forms.CharField(
        label="Approved data", max_length=120, help_text="The document and chapter that decide."
    )
    approved_revision = forms.CharField(label="Its revision", max_length=40)
    ata = forms.CharField(label="Chapter", max_length=8, help_text="Such as 30-11.")
    consequence = forms.ChoiceField(
        label="Stops while open",
        choices=[(value, words.capitalize()) for value, words in Consequence.choices],
    )
    minutes = forms.IntegerField(label="Minutes", min_value=1, help_text="Estimate for one run.")
    people = forms.IntegerField(label="People", min_value=1)
    needs_countersignature = forms.BooleanField(
        label="An independent inspector signs as well", required=False
    )
    is_inspection = forms.BooleanField(label="Recorded as an inspection", required=False)
    follow_up_on_fail = forms.ChoiceField(label="A failed test reports", required=False)
    purpose = forms.CharField(label="Purpose", widget=forms.Textarea({"rows": 2}))
    cautions = forms.CharField(
        label="Cautions",
        required=False,
        help_text="One on each line. They stand before everything else.",
        widget=forms.Textarea({"rows": 3}),
    )
    fluid_minimum = forms.CharField(label="Fluid, at least", required=False)
    fluid_unit = forms.CharField(label="Unit of the fluid", required=False, help_text="L or mL.")
    fluid_note = forms.CharField(label="About the fluid", required=False, max_length=120)
    change_note = forms.CharField(label="Why this version", required=False, max_length=300)

    def __init__(self, *args: Any, actor: Actor, is_new: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        types = list(aircraft_types(actor).values_list("code", "name"))
        offer(self, "aircraft_type", [("", "Every type"), *types])
        kinds = event_kinds(actor).filter(change=EventKind.Change.NONE, needs_position=False)
        offer(self, "follow_up_on_fail", [("", "Nothing"), *kinds.values_list("code", "name")])
        if not is_new:
            del self.fields["code"]


def draft_from(data: dict[str, Any], code: str, content: dict[str, Any]) -> Draft:
    """The draft a valid form describes."""
    return Draft(
        code=code or data["code"],
        content=content,
        minutes=data["minutes"],
        people=data["people"],
        **{name: data[name] for name in FRAME},
    )


def offers_for(actor: Actor, rows: dict[str, list[Row]]) -> Offers:
    """What the rows may choose from: the operator's options and outlet zones, and the text's own parts."""
    outlets = Position.objects.filter(aircraft_type__operator_id=actor.operator_id, is_outlet=True)
    zones = sorted(set(outlets.order_by().values_list("zone", flat=True)))
    named = {
        name: [(str(row[key]), str(row[words] or row[key])) for row in rows[name] if row[key]]
        for name, (key, words) in {"points": ("key", "name"), "equipment": ("role", "name")}.items()
    }
    runs = [(row["key"], row["title"]) for row in rows["steps"] if row["kind"] == "timed_run" and row["key"]]
    return Offers(
        options=sorted(option_names(actor.operator_id).items()),
        zones=[(zone, zone) for zone in zones if zone],
        points=named["points"],
        roles=named["equipment"],
        runs=runs,
    )
