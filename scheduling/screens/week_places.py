"""Bays, shifts and ground times of a base: what a week is planned with."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.clock import local_day, now
from fleet.common.errors import Invalid, Reason
from fleet.models import Base
from fleet.screens.base import CommandScreen, FormScreen, offer
from fleet.selectors.aircraft import aircraft_list
from fleet.selectors.people import people
from scheduling.screens.words import base_choices
from scheduling.selectors.week import base_asked_for, bays_of, ground_times_of, shifts_of
from scheduling.services.week_places import (
    Pattern,
    add_bay,
    add_ground_times,
    add_shifts,
    close_bay,
    remove_ground_time,
    remove_shift,
)

ROWS = 50
WEEKDAYS = [(0, "Mon"), (1, "Tue"), (2, "Wed"), (3, "Thu"), (4, "Fri"), (5, "Sat"), (6, "Sun")]


def picker(kind: str) -> forms.DateInput:
    """The browser's own picker for a day or a time."""
    return forms.DateInput(attrs={"type": kind}, format="%Y-%m-%d" if kind == "date" else "%H:%M")


class BayForm(forms.Form):
    """A new bay."""

    name = forms.CharField(label="Name of the bay", max_length=40)


class PatternForm(forms.Form):
    """A stretch of days with the same times."""

    first_day = forms.DateField(label="First day", widget=picker("date"))
    last_day = forms.DateField(label="Last day", widget=picker("date"))
    starts = forms.TimeField(label="From", widget=picker("time"), help_text="by the clock of the base")
    ends = forms.TimeField(
        label="To", widget=picker("time"), help_text="a time that is not later is on the next day"
    )
    weekdays = forms.TypedMultipleChoiceField(
        label="On", choices=WEEKDAYS, coerce=int, widget=forms.CheckboxSelectMultiple
    )

    def pattern(self) -> Pattern:
        """The stretch as the service takes it."""
        data = self.cleaned_data
        return Pattern(
            data["first_day"], data["last_day"], data["starts"], data["ends"], tuple(data["weekdays"])
        )


class ShiftForm(PatternForm):
    """Shifts of one person."""

    person = forms.ChoiceField(label="Person")
    remark = forms.CharField(label="Remark", max_length=80, required=False)
    field_order = ("person",)


class GroundForm(PatternForm):
    """Ground times of one aircraft."""

    aircraft = forms.ChoiceField(label="Aircraft")
    field_order = ("aircraft",)


class PlacesScreen(FormScreen):
    """What the three pages share: the base asked for, the tabs between them."""

    tab = ""
    name = ""

    @property
    def base(self) -> Base:
        """The base the page is about."""
        if not hasattr(self, "_base"):
            self._base = base_asked_for(self.actor, self.request.GET.get("base", ""))
        return self._base

    def here(self, name: str = "") -> str:
        """The address of one of the three pages at this base."""
        return f"{reverse(f'scheduling:{name or self.name}')}?base={self.base.code}"

    def common(self) -> dict[str, Any]:
        """Base, tabs and what may be done."""
        tabs = [("Bays", "bays"), ("Shifts", "shifts"), ("Ground times", "ground-times")]
        return {
            "base": self.base,
            "bases": base_choices(self.actor),
            "tab": self.tab,
            "tabs": [(label, self.here(name)) for label, name in tabs],
            "may_plan": self.actor.may(Verb.PLAN),
            "week": f"{reverse('scheduling:week')}?base={self.base.code}&whose=base",
            "today": local_day(self.base.zone),
        }

    def days_ahead(self) -> dict[str, Any]:
        """Next Monday to Sunday, for a form just opened."""
        today = local_day(self.base.zone)
        monday = today + timedelta(days=7 - today.weekday())
        return {"first_day": monday, "last_day": monday + timedelta(days=6)}

    def rows(self, rows: Any) -> Any:
        """One page of what is not over yet."""
        return Paginator(rows.filter(ends_at__gt=now()), ROWS).get_page(self.request.GET.get("page"))


class BayScreen(PlacesScreen):
    """Bays of a base."""

    template_name = "scheduling/week_bays.html"
    form_class = BayForm
    tab, name, done = "Bays", "bays", "The bay is there."

    def page(self) -> dict[str, Any]:
        """Every bay."""
        return self.common() | {"rows": bays_of(self.actor, self.base)}

    def act(self, data: dict[str, Any]) -> str:
        """A new bay."""
        add_bay(actor=self.actor, base_id=self.base.pk, name=data["name"])
        return self.here()


class ShiftScreen(PlacesScreen):
    """Shifts at a base."""

    template_name = "scheduling/week_shifts.html"
    form_class = ShiftForm
    tab, name, done = "Shifts", "shifts", "The shifts are entered."

    def get_initial(self) -> dict[str, Any]:
        """The next week, early."""
        return {**self.days_ahead(), "starts": "07:00", "ends": "15:00", "weekdays": [0, 1, 2, 3, 4]}

    def get_form(self, form_class: type[forms.Form] | None = None) -> forms.Form:
        """Whoever does work may have shifts."""
        form = super().get_form(form_class)
        working = people(self.actor).filter(memberships__role__in=["technician", "inspector"]).distinct()
        offer(form, "person", [(one.pk, one.full_name) for one in working])
        return form

    def page(self) -> dict[str, Any]:
        """Shifts that are not over."""
        return self.common() | {"page": self.rows(shifts_of(self.actor, self.base))}

    def act(self, data: dict[str, Any]) -> str:
        """Shifts over a stretch of days."""
        form = self.get_form()
        form.is_valid()
        assert isinstance(form, ShiftForm)  # noqa: S101 - the class's own form
        add_shifts(
            actor=self.actor,
            base_id=self.base.pk,
            person_id=int(data["person"]),
            pattern=form.pattern(),
            remark=data["remark"],
        )
        return self.here()


class GroundScreen(PlacesScreen):
    """When aircraft stand at a base."""

    template_name = "scheduling/week_ground.html"
    form_class = GroundForm
    tab, name, done = "Ground times", "ground-times", "The ground times are entered."

    def get_initial(self) -> dict[str, Any]:
        """The nights of the next week."""
        return {**self.days_ahead(), "starts": "20:00", "ends": "06:00", "weekdays": list(range(7))}

    def get_form(self, form_class: type[forms.Form] | None = None) -> forms.Form:
        """Every aircraft of the operator: also one that only visits."""
        form = super().get_form(form_class)
        offer(form, "aircraft", [(one.pk, f"{one} ({one.base})") for one in aircraft_list(self.actor)])
        return form

    def page(self) -> dict[str, Any]:
        """Ground times that are not over."""
        return self.common() | {"page": self.rows(ground_times_of(self.actor, self.base))}

    def act(self, data: dict[str, Any]) -> str:
        """Ground times over a stretch of days."""
        form = self.get_form()
        form.is_valid()
        assert isinstance(form, GroundForm)  # noqa: S101 - the class's own form
        add_ground_times(
            actor=self.actor,
            base_id=self.base.pk,
            aircraft_id=int(data["aircraft"]),
            pattern=form.pattern(),
        )
        return self.here()


class CloseBay(CommandScreen):
    """Close a bay from a day on, or open it."""

    def act(self, bay: int) -> str:
        """The day as written; none opens it."""
        written = self.request.POST.get("day", "")
        try:
            day = date.fromisoformat(written) if written else None
        except ValueError as error:
            reason = Reason("is no date", "day", written[:20], "choose a day")
            raise Invalid("bad_day", reason.sentence(), reason) from error
        row = close_bay(actor=self.actor, bay_id=bay, day=day)
        return f"{reverse('scheduling:bays')}?base={row.base.code}"


class RemoveShift(CommandScreen):
    """Take a shift away."""

    done = "The shift is taken away."

    def act(self, shift: int) -> str:
        """Back to the list it came from."""
        remove_shift(actor=self.actor, shift_id=shift)
        return self.request.headers.get("Referer") or reverse("scheduling:shifts")


class RemoveGroundTime(CommandScreen):
    """Take a ground time away."""

    done = "The ground time is taken away."

    def act(self, ground: int) -> str:
        """Back to the list it came from."""
        remove_ground_time(actor=self.actor, ground_time_id=ground)
        return self.request.headers.get("Referer") or reverse("scheduling:ground-times")
