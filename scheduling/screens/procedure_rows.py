"""The rows of the procedure editor: equipment, points and steps, each kind of row one form."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django import forms

from fleet.screens.base import offer
from scheduling.limits.kinds import Basis
from scheduling.limits.rounding import RoundingMethod
from scheduling.screens.rows import Row
from scheduling.steps.describe import KIND_WORDS, ROLE_WORDS

LIMIT_KINDS = {
    "nominal": "Nominal with plus and minus",
    "relative": "Nominal with plus and minus in per cent",
    "minimum": "At least",
    "maximum": "At most",
    "window": "Between two values",
    "pair_difference": "Two points close to each other",
    "ratio": "Smallest by largest",
    "all_yes": "Yes to everything",
}
BASES = {
    Basis.ABSOLUTE: "as an amount",
    Basis.OF_LARGER: "in per cent of the larger",
    Basis.OF_SMALLER: "in per cent of the smaller",
    Basis.OF_MEAN: "in per cent of their mean",
    Basis.OF_NOMINAL: "in per cent of a nominal",
}
SIDES = [("", "no side"), ("left", "left"), ("right", "right")]
ROUNDINGS = [
    (RoundingMethod.UNROUNDED.value, "as read"),
    *[(m.value, m.value.replace("_", " ")) for m in RoundingMethod if m is not RoundingMethod.UNROUNDED],
]
TICKS = forms.CheckboxSelectMultiple


@dataclass(frozen=True, slots=True)
class Offers:
    """What rows may choose from: options, kinds of equipment, zones, and the text's own points, roles and runs."""

    options: list[tuple[str, str]] = field(default_factory=list)
    zones: list[tuple[str, str]] = field(default_factory=list)
    points: list[tuple[str, str]] = field(default_factory=list)
    roles: list[tuple[str, str]] = field(default_factory=list)
    runs: list[tuple[str, str]] = field(default_factory=list)


def short(label: str, **more: Any) -> forms.CharField:
    """A line of text that may stay empty here; whether it may is said when the whole text is read."""
    return forms.CharField(label=label, required=False, **more)


def number(label: str, **more: Any) -> forms.CharField:
    """A number as it is written; it stays text so that no digit is lost."""
    return short(label, widget=forms.TextInput({"inputmode": "decimal"}), **more)


def choice(label: str, choices: Any = ()) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=choices)


class RowForm(forms.Form):
    """A row; its choices come from the rest of the text."""

    offered: dict[str, str] = {}

    def __init__(self, *args: Any, offers: Offers, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, source in self.offered.items():
            rows = getattr(offers, source)
            is_many = isinstance(self.fields[name], forms.MultipleChoiceField)
            chosen = self.data.getlist(self.add_prefix(name)) if hasattr(self.data, "getlist") else []
            known = {key for key, _ in rows}
            strangers = [(key, f"{key} (not known)") for key in chosen if key and key not in known]
            offer(self, name, [*([] if is_many else [("", "none")]), *rows, *strangers])


class EquipmentRow(RowForm):
    """A tool the work needs."""

    offered = {"when_all": "options", "when_none": "options"}
    name = short("Name", max_length=80)
    kind = short("Kind", max_length=40, help_text="As in the equipment list, such as measuring-cylinder.")
    role = forms.CharField(required=False, widget=forms.HiddenInput)
    when_all = forms.MultipleChoiceField(label="Only with", required=False, widget=TICKS)
    when_none = forms.MultipleChoiceField(label="Only without", required=False, widget=TICKS)


class PointRow(RowForm):
    """What is measured or compared, and its limit."""

    offered = {"of_first": "points", "of_second": "points"}
    name = short("Name", max_length=80)
    key = forms.CharField(required=False, widget=forms.HiddenInput)
    unit = short("Unit", max_length=16, help_text="mL, s, V …")
    role = choice("What it is for", [(role.value, words) for role, words in ROLE_WORDS.items()])
    side = choice("Side", SIDES)
    limit_kind = choice("Kind of limit", list(LIMIT_KINDS.items()))
    of_first = choice("First point")
    of_second = choice("Second point")
    basis = choice("Difference", [("", "choose"), *[(basis.value, words) for basis, words in BASES.items()]])
    nominal = number("Nominal")
    plus = number("Plus")
    minus = number("Minus")
    low = number("At least")
    high = number("At most")
    rounding = choice("Rounding", ROUNDINGS)
    normalise_seconds = number("Scaled to a run of (s)")
    normalise_percent = number("At most off (%)")
    trend_nominal = number("Nominal for the trend")
    trend = forms.BooleanField(label="Followed as a trend", required=False)

    @property
    def is_special(self) -> bool:
        """Whether something stands in the fields that few points need."""
        names = ("side", "normalise_seconds", "normalise_percent", "trend_nominal", "trend")
        return any(self[name].value() for name in names) or self["role"].value() != "measurement"


class StepRow(RowForm):
    """One step; which fields matter depends on its kind."""

    offered = {
        "when_all": "options",
        "when_none": "options",
        "zones": "zones",
        "point": "points",
        "point_left": "points",
        "point_right": "points",
        "equipment_role": "roles",
        "run_step": "runs",
    }
    kind = choice("Kind", [(kind.value, words) for kind, words in KIND_WORDS.items()])
    title = short("Title", max_length=120)
    key = forms.CharField(required=False, widget=forms.HiddenInput)
    text = short("What to do", widget=forms.Textarea({"rows": 2}))
    caution = short("Caution, shown before the step", widget=forms.Textarea({"rows": 2}))
    control = short("Control")
    state = short("Set to")
    point = choice("Point")
    equipment_role = choice("With")
    seconds = number("Seconds")
    tolerance_seconds = number("Tolerance (s)")
    runs = number("Runs")
    max_on_seconds = number("At most on (s)")
    min_rest_seconds = number("At least rest (s)")
    zones = forms.MultipleChoiceField(label="Zones", required=False, widget=TICKS)
    longest_seconds = number("Wet within (s)")
    point_left = choice("Point, left")
    point_right = choice("Point, right")
    run_step = choice("During which run")
    when_all = forms.MultipleChoiceField(label="Only with", required=False, widget=TICKS)
    when_none = forms.MultipleChoiceField(label="Only without", required=False, widget=TICKS)


ROW_FORMS: dict[str, type[RowForm]] = {"equipment": EquipmentRow, "points": PointRow, "steps": StepRow}


def blank(name: str) -> Row:
    """An empty row of one kind."""
    row: Row = {
        key: [] if isinstance(made, forms.MultipleChoiceField) else ""
        for key, made in ROW_FORMS[name].base_fields.items()
    }
    starts = {"points": {"role": "measurement", "limit_kind": "nominal"}, "steps": {"kind": "check"}}
    return {**row, **starts.get(name, {})}
