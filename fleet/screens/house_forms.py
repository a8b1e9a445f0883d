"""Forms of bases, types, positions and the register: shape only, sense is the services' business."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms

from fleet.common.actor import Actor
from fleet.common.wording import MONTHS
from fleet.models import AircraftType, Position
from fleet.screens.base import offer
from fleet.screens.flight_forms import HoursField, MomentField
from fleet.selectors.aircraft import aircraft_types, component_kinds
from fleet.selectors.people import bases

CLOCK = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
MONTH_CHOICES = [("", "no season"), *((str(number), name) for number, name in enumerate(MONTHS, 1))]
CODE_HELP = "Small letters, digits and hyphens. It stays: addresses and files are found by it."


def zones() -> list[tuple[str, str]]:
    """Every named place; the technical ones are left out."""
    named = [
        name
        for name in available_timezones()
        if "/" in name and not name.startswith(("Etc/", "posix", "right"))
    ]
    return [("UTC", "UTC"), *((name, name.replace("_", " ")) for name in sorted(named))]


class BaseForm(forms.Form):
    """A base."""

    code = forms.SlugField(max_length=20, help_text=CODE_HELP)
    name = forms.CharField(max_length=80)
    zone = forms.ChoiceField(label="Time zone", choices=zones)
    season_start_month = forms.TypedChoiceField(
        label="Icing season begins in", coerce=int, empty_value=None, required=False, choices=MONTH_CHOICES
    )
    season_start_day = forms.IntegerField(label="on day", min_value=1, max_value=31, required=False)
    season_end_month = forms.TypedChoiceField(
        label="Icing season ends in", coerce=int, empty_value=None, required=False, choices=MONTH_CHOICES
    )
    season_end_day = forms.IntegerField(label="on day", min_value=1, max_value=31, required=False)
    digest_at = forms.TimeField(label="Digest goes out at", widget=CLOCK)
    day_starts_at = forms.TimeField(label="A day of relief begins at", widget=CLOCK)
    quiet_from = forms.TimeField(label="Quiet from", widget=CLOCK)
    quiet_to = forms.TimeField(label="Quiet to", widget=CLOCK)

    def clean(self) -> dict[str, Any]:
        """Month and day of a season's end as one."""
        data: dict[str, Any] = super().clean() or {}
        for end in ("season_start", "season_end"):
            month, day = data.pop(f"{end}_month", None), data.pop(f"{end}_day", None)
            if (month is None) != (day is None):
                self.add_error(f"{end}_day", "Enter month and day, or neither.")
            data[end] = (month, day) if month and day else None
        return data


class CodeForm(forms.Form):
    """A code and a name."""

    code = forms.SlugField(max_length=40, help_text=CODE_HELP)
    name = forms.CharField(max_length=80)


class NameForm(forms.Form):
    """Another name."""

    name = forms.CharField(max_length=80)


class KindForm(CodeForm):
    """A kind of component."""

    ata = forms.CharField(label="Chapter", max_length=8, required=False, help_text="Two digits, such as 30.")


class PositionForm(forms.Form):
    """A place on a type."""

    code = forms.SlugField(max_length=60, help_text=CODE_HELP)
    name = forms.CharField(max_length=100)
    kind_code = forms.ChoiceField(label="Kind of component that sits there")
    side = forms.ChoiceField(
        choices=Position.Side.choices, help_text="Which side is fed; sides are compared."
    )
    zone = forms.CharField(
        max_length=20, required=False, help_text="wing, strut, tail, propeller, windshield …"
    )
    order = forms.IntegerField(label="Place in lists", min_value=0, max_value=32_767, initial=0)
    needs_option = forms.ChoiceField(label="Only with", required=False)
    is_outlet = forms.BooleanField(label="An outlet that is watched when wetting", required=False)
    map_x = forms.IntegerField(label="On the outlet map, across", min_value=0, max_value=100, required=False)
    map_y = forms.IntegerField(label="On the outlet map, down", min_value=0, max_value=100, required=False)

    def __init__(self, *arguments: Any, actor: Actor, aircraft_type: AircraftType, **named: Any) -> None:
        super().__init__(*arguments, **named)
        offer(self, "kind_code", [(kind.code, kind.name) for kind in component_kinds(actor)])
        options = [(option.code, option.name) for option in aircraft_type.options.all()]
        offer(self, "needs_option", [("", "every aircraft of the type"), *options])


class AircraftForm(forms.Form):
    """An aircraft on the register."""

    registration = forms.CharField(max_length=12)
    serial_number = forms.CharField(max_length=40)
    type_code = forms.ChoiceField(label="Type")
    base_code = forms.ChoiceField(label="Base")
    manufactured_on = forms.DateField(
        label="Made on", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    option_codes = forms.MultipleChoiceField(
        label="Options", required=False, widget=forms.CheckboxSelectMultiple
    )
    withdrawn_on = forms.DateField(
        label="Withdrawn on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2_000)

    def __init__(self, *arguments: Any, actor: Actor, **named: Any) -> None:
        super().__init__(*arguments, **named)
        types = aircraft_types(actor).prefetch_related("options")
        offer(self, "type_code", [(row.code, row.name) for row in types])
        offer(self, "base_code", [(row.code, row.name) for row in bases(actor)])
        names: dict[str, list[str]] = {}
        for row in types:
            for option in row.options.all():
                names.setdefault(option.code, [option.name]).append(row.name)
        offer(
            self, "option_codes", [(code, f"{name} ({', '.join(of)})") for code, (name, *of) in names.items()]
        )


class NewAircraftForm(AircraftForm):
    """A new aircraft with what its meters showed when it came."""

    opening_at = MomentField(label="Meters read at (UTC)")
    minutes = HoursField(label="Flight time", max_length=12, initial="0:00", help_text="1304:30 or 1304.5")
    landings = forms.IntegerField(min_value=0, initial=0)
    cycles = forms.IntegerField(label="Engine cycles", min_value=0, initial=0)
