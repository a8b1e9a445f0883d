"""The last step of a report: what was fitted, when, and what was seen."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from fleet.common.clock import now
from fleet.common.wording import hours
from fleet.models import Aircraft, Component, Position
from fleet.quantities import plain_number
from fleet.screens.base import offer
from fleet.services.configuration import NewComponent
from scheduling.models import EventKind

NEW = "new"
HOURS = re.compile(r"^(\d{1,6})(?::([0-5]\d))?$")
PART, SERIAL = "new_component.part_number", "new_component.serial_number"
MADE, SINCE_NEW = "new_component.manufactured_on", "new_component.opening_minutes"
RELEASE = "new_component.release_document"


class HoursField(forms.CharField):
    """Hours as they stand in a log, `1304` or `1304:30`, kept as whole minutes."""

    def clean(self, value: Any) -> int:
        written = str(super().clean(value) or "0").replace(" ", "")
        found = HOURS.match(written)
        if found is None:
            raise forms.ValidationError("Write hours and minutes, such as 1304:30.")
        return int(found.group(1)) * 60 + int(found.group(2) or 0)


class PartField(forms.ChoiceField):
    """Any part may be named: one reported a moment ago is no longer in store, and the report may come again."""

    def valid_value(self, value: Any) -> bool:
        return True


class ReportForm(forms.Form):
    """Built for one kind of event on one aircraft; a position is asked here only where it may be left out."""

    position = forms.ChoiceField(label="Where", required=False)
    component_on = PartField(label="What was fitted")
    at = forms.DateTimeField(
        label="When",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
    )
    note = forms.CharField(
        label="What was seen or done",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    photo = forms.FileField(
        label="Photograph",
        required=False,
        help_text="JPEG or PNG, at most 8 MB.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png"}),
    )
    key = forms.CharField(max_length=100, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        aircraft: Aircraft,
        kind: EventKind,
        positions: list[Position],
        store: list[Component],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.zone = ZoneInfo(aircraft.base.zone)
        local = now().astimezone(self.zone)
        self.fields["at"].initial = local.strftime("%Y-%m-%dT%H:%M")
        self.fields["at"].help_text = f"Local time at {aircraft.base.name} ({local:%Z})."
        if positions:
            choices = [(position.code, position.name) for position in positions]
            offer(self, "position", [("", "No particular place"), *choices])
        else:
            del self.fields["position"]
        if kind.change in (EventKind.Change.REPLACE, EventKind.Change.FIT):
            self._offer_parts(store)
        else:
            del self.fields["component_on"]

    def _offer_parts(self, store: list[Component]) -> None:
        rows = [(str(part.pk), _part_words(part)) for part in store]
        unknown = (NEW, "A part that is not on the register yet")
        offer(self, "component_on", [("", "Choose a part"), *rows, unknown])
        if not rows:
            self.fields["component_on"].help_text = "There is none of this kind in store."
            self.fields["component_on"].initial = NEW
        self.fields[PART] = forms.CharField(label="Part number", max_length=60, required=False)
        self.fields[SERIAL] = forms.CharField(label="Serial number", max_length=60, required=False)
        self.fields[MADE] = forms.DateField(
            label="Made on", required=False, widget=forms.DateInput(attrs={"type": "date"})
        )
        self.fields[SINCE_NEW] = HoursField(
            label="Flown since new", required=False, help_text="Hours and minutes, such as 1304:30."
        )
        self.fields[RELEASE] = forms.CharField(label="Release document", max_length=80, required=False)

    @property
    def new_fields(self) -> list[forms.BoundField]:
        """The fields of a part that is not on the register yet."""
        return [self[name] for name in self.fields if name.startswith("new_component.")]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("component_on") == NEW:
            for name in (PART, SERIAL):
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, "Read it off the part and fill it in.")
        return data

    def clean_at(self) -> datetime:
        """The moment as it was entered, in the zone of the aircraft's base."""
        moment: datetime = self.cleaned_data["at"]
        return moment.replace(tzinfo=self.zone)

    def new_component(self) -> NewComponent | None:
        """The part to be registered, if one is."""
        data = self.cleaned_data
        if data.get("component_on") != NEW:
            return None
        made: date | None = data.get(MADE)
        return NewComponent(
            kind_code="",
            part_number=data[PART],
            serial_number=data[SERIAL],
            manufactured_on=made,
            opening_minutes=data.get(SINCE_NEW) or 0,
            release_document=data.get(RELEASE) or "",
        )

    def component_on_id(self) -> int | None:
        """The part from the store, if one was chosen."""
        return plain_number(self.cleaned_data.get("component_on", ""))


def _part_words(part: Component) -> str:
    opening = f", {hours(part.opening_minutes)} when it came" if part.opening_minutes else ", new"
    return f"{part.serial_number} (part {part.part_number}{opening})"
