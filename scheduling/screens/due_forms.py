"""Forms about due items."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qsl

from django import forms

from fleet.common.errors import Invalid, Refusal
from fleet.quantities import parse_hours
from fleet.screens.base import offer
from scheduling.selectors.due_item import LimitRow
from scheduling.services.applicability import LastDone


@contextmanager
def named_as_in_form(field_of: Callable[[str], str]) -> Iterator[None]:
    """Let a refusal name the fields of a form: `last_done.hours` becomes `hours`, beside which it then stands."""
    try:
        yield
    except Invalid as refusal:
        reasons = [replace(reason, field=field_of(reason.field)) for reason in refusal.reasons]
        raise Invalid(refusal.code, refusal.sentence, *reasons) from refusal


def day_field(label: str, *, required: bool = True, help_text: str = "") -> forms.DateField:
    """A day, with the browser's own calendar."""
    return forms.DateField(
        label=label, required=required, help_text=help_text, widget=forms.DateInput(attrs={"type": "date"})
    )


class HoursField(forms.CharField):
    """Hours as written, 1304:30 or 1304.5, into whole minutes."""

    def clean(self, value: Any) -> int | None:
        """Whole minutes; None where nothing was entered."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_hours(text, field="hours")
        except Refusal as refusal:
            raise forms.ValidationError(refusal.sentence) from refusal


class KeepViewForm(forms.Form):
    """A name for the present filters."""

    name = forms.CharField(label="Name of the view", max_length=60)
    is_shared = forms.BooleanField(label="Colleagues see it too", required=False)
    query = forms.CharField(widget=forms.HiddenInput, required=False)

    def clean_query(self) -> dict[str, str]:
        """The filters as they stand in an address."""
        return dict(parse_qsl(self.cleaned_data["query"]))


class LastDoneForm(forms.Form):
    """What was last done, as the papers say."""

    day = day_field("Day it was done", required=False)
    hours = HoursField(label="Flight hours then", required=False, help_text="Such as 1304:30.")
    landings = forms.IntegerField(label="Landings then", required=False, min_value=0)
    cycles = forms.IntegerField(label="Engine cycles then", required=False, min_value=0)
    uses = forms.IntegerField(label="Uses then", required=False, min_value=0)
    proof = forms.CharField(label="Paper that proves it", required=False, max_length=80)
    note = forms.CharField(label="Note", required=False, max_length=200)


def last_done_from(data: dict[str, Any]) -> LastDone:
    """The form as the service takes it."""
    counters = {
        name: data[name] for name in ("hours", "landings", "cycles", "uses") if data[name] is not None
    }
    return LastDone(data["day"], counters, data["proof"], data["note"])


class VariationForm(forms.Form):
    """One limit, one amount, one reason."""

    path = forms.ChoiceField(label="Limit")
    amount = forms.CharField(
        label="By how much", help_text="Hours as 10:00, a count such as 25, days such as 18, or “1 month”."
    )
    reason = forms.CharField(
        label="Why it cannot be done in time", max_length=300, widget=forms.Textarea(attrs={"rows": 3})
    )
    reference = forms.CharField(
        label="Approval it rests on", required=False, max_length=160, help_text="Left empty: the table's own."
    )

    def __init__(self, *args: Any, limits: Sequence[LimitRow], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "path", [(limit.path, limit.words) for limit in limits])

    def clean_amount(self) -> str | int | dict[str, str]:
        """As the table's amounts are written: months by their word."""
        text: str = self.cleaned_data["amount"].strip()
        number, _, word = text.partition(" ")
        if word.rstrip("s") == "month":
            return {"months": number}
        return number if word.rstrip("s") in ("day", "landing", "cycle", "use", "h", "hour") else text


class StopForm(forms.Form):
    """Why an item does not apply."""

    reason = forms.CharField(
        label="Why it does not apply here", max_length=300, widget=forms.Textarea(attrs={"rows": 3})
    )


class IfFliesForm(forms.Form):
    """If an aircraft flies so much every day."""

    aircraft = forms.ChoiceField(label="Aircraft")
    hours = HoursField(label="Flight hours a day", help_text="Such as 6:00.")
    landings = forms.IntegerField(
        label="Landings a day", required=False, min_value=0, help_text="Left empty: as many an hour as usual."
    )

    def __init__(self, *args: Any, aircraft: Iterable[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "aircraft", [(row.registration, row.registration) for row in aircraft])


class IfDoneForm(forms.Form):
    """If an item is done on a day to come."""

    day = day_field("If it is done on")
