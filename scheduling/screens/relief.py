"""Approved relief with its clocks, repair categories, and what is planned to be flown."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.urls import reverse

from fleet.common.actor import Actor, Verb
from fleet.common.clock import now
from fleet.screens.base import CommandScreen, FormScreen, Screen, offer
from fleet.selectors.aircraft import aircraft_for, aircraft_list
from fleet.selectors.people import operator_of
from scheduling.due.relief import ReliefUnit
from scheduling.models import Consequence
from scheduling.screens.due_forms import HoursField, day_field
from scheduling.selectors.programme import flying_plans, relief_categories, reliefs
from scheduling.services.flying_plans import NewPlan, enter_plan, remove_plan
from scheduling.services.relief import NewRelief, close_relief, grant_relief, write_category

UNITS = (
    (ReliefUnit.DAYS, "days"),
    (ReliefUnit.FLIGHT_DAYS, "flight days"),
    (ReliefUnit.HOURS, "flight minutes"),
    (ReliefUnit.CYCLES, "engine cycles"),
    (ReliefUnit.FLIGHTS, "flights"),
)
LEVELS = {"running": "soon", "expired": "stop"}


class ReliefScreen(Screen):
    """Relief that runs, the categories, and relief closed lately."""

    template_name = "scheduling/relief.html"

    def page(self) -> dict[str, Any]:
        """Soonest end first."""
        return {
            "open": [
                (row.relief, row.state, LEVELS[row.state.status] if row.state else "unknown")
                for row in reliefs(self.actor)
            ],
            "closed": [row.relief for row in reliefs(self.actor, is_open=False)[:20]],
            "categories": relief_categories(self.actor),
            "zone": operator_of(self.actor).day_zone,
            "may_grant": self.actor.may(Verb.GRANT_RELIEF),
            "may_write": self.actor.may(Verb.GRANT_VARIATION),
        }


class ReliefForm(forms.Form):
    """Relief as granted."""

    aircraft = forms.ChoiceField(label="Aircraft")
    category = forms.ChoiceField(label="Category")
    item = forms.CharField(label="Item of the approved list", max_length=80)
    reference = forms.CharField(label="Approved list and revision", max_length=120)
    restriction = forms.CharField(
        label="Restriction while it runs", max_length=200, initial="no flight into known or forecast icing"
    )
    covers = forms.ChoiceField(
        label="Covers items that stop", choices=Consequence.choices, initial=Consequence.ICING
    )
    recorded_at = forms.CharField(
        label="When the fault was recorded", widget=forms.DateTimeInput(attrs={"type": "datetime-local"})
    )
    amount = forms.IntegerField(
        label="Interval the remarks state",
        required=False,
        min_value=1,
        help_text="Only where the category leaves it to them.",
    )
    unit = forms.ChoiceField(label="Counted in", choices=UNITS, required=False)

    def __init__(self, *args: Any, actor: Actor, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.zone = operator_of(actor).day_zone
        offer(self, "aircraft", [(row.registration, row.registration) for row in aircraft_list(actor)])
        offer(
            self,
            "category",
            [
                (row.code, f"{row.code}: {f'{row.days} days' if row.days else 'as the remarks state'}")
                for row in relief_categories(actor)
            ],
        )
        self.fields["recorded_at"].help_text = f"In the operator's own zone, {self.zone}."

    def clean_recorded_at(self) -> datetime:
        """The moment in the operator's own zone."""
        try:
            given = datetime.fromisoformat(self.cleaned_data["recorded_at"])
        except ValueError as error:
            raise forms.ValidationError("This is no moment. Write 2026-03-14T09:30.") from error
        return given if given.tzinfo else given.replace(tzinfo=ZoneInfo(self.zone))


class GrantReliefScreen(FormScreen):
    """Record approved relief."""

    template_name = "scheduling/relief_grant.html"
    form_class = ReliefForm
    done = "The relief is recorded and its clock runs."
    verb = Verb.GRANT_RELIEF

    def get_form_kwargs(self) -> dict[str, Any]:
        """The operator's aircraft and categories."""
        return {**super().get_form_kwargs(), "actor": self.actor}

    def get_initial(self) -> dict[str, Any]:
        """The aircraft asked for, this moment."""
        zone = ZoneInfo(operator_of(self.actor).day_zone)
        moment = now().astimezone(zone).strftime("%Y-%m-%dT%H:%M")
        return {"aircraft": self.request.GET.get("aircraft", ""), "recorded_at": moment}

    def act(self, data: dict[str, Any]) -> str:
        """Grant it."""
        aircraft = aircraft_for(self.actor, data.pop("aircraft"))
        data["unit"] = data["unit"] or ReliefUnit.DAYS
        grant_relief(actor=self.actor, grant=NewRelief(aircraft_id=aircraft.pk, **data))
        return reverse("scheduling:relief")


class CloseReliefScreen(CommandScreen):
    """Close a relief."""

    done = "The relief is closed."

    def act(self, relief_id: int) -> str:
        """With the reason of the dialog."""
        close_relief(actor=self.actor, relief_id=relief_id, reason=self.request.POST.get("reason", ""))
        return reverse("scheduling:relief")


class CategoryForm(forms.Form):
    """A repair category."""

    code = forms.CharField(label="Code", max_length=4)
    days = forms.IntegerField(
        label="Days",
        required=False,
        min_value=1,
        help_text="Left empty where the remarks of each item state it.",
    )
    starts_at = forms.TimeField(
        label="The clock starts on the day after the record at",
        initial="00:00",
        widget=forms.TimeInput(attrs={"type": "time"}),
    )
    source = forms.CharField(label="Source", max_length=160, help_text="The approved list and its revision.")


class CategoryScreen(FormScreen):
    """Write a repair category."""

    template_name = "scheduling/relief_category.html"
    form_class = CategoryForm
    done = "The category is written."
    verb = Verb.GRANT_VARIATION

    def act(self, data: dict[str, Any]) -> str:
        """Write it."""
        write_category(actor=self.actor, **data)
        return reverse("scheduling:relief")


class PlanForm(forms.Form):
    """A stretch of days and what is planned on each."""

    aircraft = forms.ChoiceField(label="Aircraft")
    from_day = day_field("From")
    to_day = day_field("To, this day included")
    minutes_per_day = HoursField(
        label="Flight hours a day", help_text="Such as 6:00; 0:00 for a stay in the hangar."
    )
    landings_per_day = forms.DecimalField(label="Landings a day", min_value=0, max_digits=6, decimal_places=2)
    note = forms.CharField(label="Note", required=False, max_length=120)

    def __init__(self, *args: Any, actor: Actor, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "aircraft", [(row.registration, row.registration) for row in aircraft_list(actor)])


class FlyingPlansScreen(FormScreen):
    """What is planned to be flown; enter a stretch."""

    template_name = "scheduling/due_list_plans.html"
    form_class = PlanForm
    done = "The stretch is entered; projections follow it."

    def get_form_kwargs(self) -> dict[str, Any]:
        """The operator's aircraft."""
        return {**super().get_form_kwargs(), "actor": self.actor}

    def get_initial(self) -> dict[str, Any]:
        """The aircraft asked for."""
        return {"aircraft": self.request.GET.get("aircraft", "")}

    def page(self) -> dict[str, Any]:
        """Stretches still ahead."""
        return {
            "plans": flying_plans(self.actor, since=now().date()),
            "may_plan": self.actor.may(Verb.PLAN),
        }

    def act(self, data: dict[str, Any]) -> str:
        """Enter it."""
        aircraft = aircraft_for(self.actor, data.pop("aircraft"))
        enter_plan(actor=self.actor, plan=NewPlan(aircraft_id=aircraft.pk, **data))
        return reverse("scheduling:flying-plans")


class RemovePlan(CommandScreen):
    """Take a stretch out again."""

    done = "The stretch is removed."

    def act(self, plan_id: int) -> str:
        """Remove it."""
        remove_plan(actor=self.actor, plan_id=plan_id)
        return reverse("scheduling:flying-plans")
