"""Forms of flights, flight files and meters: shape only, sense is the services' business."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from fleet.common.actor import Actor
from fleet.flight_file.columns import FIELDS, Numbers, Zone
from fleet.models import Meter
from fleet.quantities import RefusedInput, parse_hours
from fleet.screens.base import offer
from fleet.selectors.aircraft import aircraft_list

CLOCK = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
NAMES = {
    "registration": "Registration",
    "date": "Date",
    "off": "Left the surface",
    "on": "Touched the surface",
    "duration": "Flight time",
    "landings": "Landings",
    "cycles": "Engine cycles",
    "reference": "Reference",
}


class HoursField(forms.CharField):
    """Hours and minutes, or decimal hours, as whole minutes."""

    def clean(self, value: Any) -> int:
        """`1:35` and `1.5` are 95 and 90 minutes."""
        text = super().clean(value)
        try:
            return parse_hours(text)
        except RefusedInput as refusal:
            raise forms.ValidationError(refusal.reasons[0].beside()) from refusal


class MomentField(forms.DateTimeField):
    """A moment in UTC, with the browser's own picker."""

    def __init__(self, **named: Any) -> None:
        super().__init__(widget=CLOCK, **named)

    def to_python(self, value: Any) -> datetime | None:
        """The pickers name no zone: it is UTC, as the label says."""
        moment = super().to_python(value)
        return moment.replace(tzinfo=ZoneInfo("UTC")) if moment else None


class FlightForm(forms.Form):
    """One flight."""

    aircraft = forms.TypedChoiceField(coerce=int)
    off_at = MomentField(label="Left the surface (UTC)")
    minutes = HoursField(
        label="Flight time", max_length=8, help_text="Hours and minutes, 1:35, or decimal hours, 1.5."
    )
    landings = forms.IntegerField(initial=1, min_value=0)
    cycles = forms.IntegerField(label="Engine cycles", initial=1, min_value=0)
    reference = forms.CharField(
        max_length=80, help_text="Its number in the log. The same reference twice counts once."
    )

    def __init__(self, *arguments: Any, actor: Actor, **named: Any) -> None:
        super().__init__(*arguments, **named)
        offer(self, "aircraft", [(row.pk, row.registration) for row in aircraft_list(actor)])


class UploadForm(forms.Form):
    """A flight file."""

    file = forms.FileField(
        label="CSV file",
        help_text="A heading, then one flight per row: registration, date, flight time, and what else there is.",
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv,.txt"}),
    )


class ColumnsForm(forms.Form):
    """Which column holds what."""

    zone = forms.ChoiceField(
        label="Times are",
        choices=[
            (Zone.UTC, "UTC"),
            (Zone.BASE, "local time at the base"),
        ],
    )
    numbers = forms.ChoiceField(
        label="Plain numbers of flight time are",
        choices=[(Numbers.MINUTES, "minutes (95)"), (Numbers.HOURS, "hours (1.5)")],
    )
    field_order = [*FIELDS, "zone", "numbers"]

    def __init__(self, *arguments: Any, heading: list[str], **named: Any) -> None:
        super().__init__(*arguments, **named)
        columns = [("", "no column"), *((name, name) for name in heading if name)]
        for field in FIELDS:
            self.fields[field] = forms.ChoiceField(
                label=NAMES[field], choices=columns, required=field == "registration"
            )
        self.order_fields(self.field_order)


class ReadingForm(forms.Form):
    """What a meter shows; with a reason, it is a correction, for those who may correct."""

    at = MomentField(label="When it was read (UTC)")
    value = forms.CharField(label="What it shows", max_length=16)
    reason = forms.CharField(
        max_length=200,
        required=False,
        label="Reason, if it corrects what is known",
        help_text="A reading never goes down. With a reason this puts the meter right, up or down, as a new row.",
    )

    def __init__(self, *arguments: Any, meter: Meter, may_correct: bool, **named: Any) -> None:
        super().__init__(*arguments, **named)
        if not may_correct:
            del self.fields["reason"]
        if meter.kind in (Meter.Kind.MINUTES, Meter.Kind.USE_MINUTES):
            self.fields["value"] = HoursField(
                label="What it shows", max_length=16, help_text="1304:30 or 1304.5"
            )
        else:
            self.fields["value"] = forms.IntegerField(label="What it shows", min_value=0)
        self.order_fields(["at", "value", "reason"])
