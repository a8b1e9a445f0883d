"""Life limits of parts, dispositions of removed ones, and fluid that went into aircraft."""

from __future__ import annotations

from typing import Any

from django import forms
from django.urls import reverse

from fleet.common.actor import Actor, Verb
from fleet.common.clock import local_day, now
from fleet.common.errors import NotFound
from fleet.models import Installation, LifeLimit
from fleet.quantities import RefusedInput, parse_hours, plain_number
from fleet.screens.base import CommandScreen, FormScreen, offer
from fleet.screens.flight_forms import MomentField
from fleet.screens.stock_forms import VOLUMES
from fleet.selectors.aircraft import aircraft_list, awaiting_disposition, component_kinds, life_limits
from fleet.selectors.stock import usable_lots
from fleet.services.components import (
    LifeLimitEntry,
    drop_life_limit,
    record_disposition,
    scrap_component,
    set_life_limit,
)
from fleet.services.stock import NewUplift, record_uplift


class LifeLimitForm(forms.Form):
    """The most life a part may have."""

    kind_code = forms.ChoiceField(label="Kind of component")
    part_number = forms.CharField(
        max_length=60,
        required=False,
        help_text="Empty: every part of the kind. A number's own limit goes before.",
    )
    parameter = forms.ChoiceField(label="Counted in", choices=LifeLimit.Parameter.choices)
    limit = forms.CharField(
        label="Limit", max_length=12, help_text="Hours for flight time, else a whole number."
    )
    source = forms.CharField(max_length=120, help_text="The approved data that says so, with its revision.")

    def __init__(self, *arguments: Any, actor: Actor, **named: Any) -> None:
        super().__init__(*arguments, **named)
        offer(self, "kind_code", [(kind.code, kind.name) for kind in component_kinds(actor)])

    def clean_limit(self) -> int:
        """Hours as minutes where flight time is counted."""
        text = self.cleaned_data["limit"].strip()
        if self.cleaned_data.get("parameter") == LifeLimit.Parameter.MINUTES:
            try:
                return parse_hours(text, field="limit")
            except RefusedInput as refusal:
                raise forms.ValidationError(refusal.sentence) from refusal
        number = plain_number(text)
        if number is None:
            raise forms.ValidationError("Write a whole number.")
        return number


class LifeLimitsScreen(FormScreen):
    """Every life limit; one is entered or changed here; parts that want a disposition."""

    template_name = "fleet/life_limits.html"
    form_class = LifeLimitForm
    done = "The life limit holds."

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the actor to the form."""
        return {**super().get_form_kwargs(), "actor": self.actor}

    def page(self) -> dict[str, Any]:
        """Limits, and removed parts without a disposition."""
        return {
            "limits": life_limits(self.actor),
            "waiting": awaiting_disposition(self.actor)[:100],
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
            "may_dispose": self.actor.may(Verb.REPORT_EVENT),
        }

    def act(self, data: dict[str, Any]) -> str:
        """Enter it."""
        set_life_limit(actor=self.actor, entry=LifeLimitEntry(**data))
        return reverse("fleet:life-limits")


class DropLifeLimitScreen(CommandScreen):
    """A life limit that no longer holds."""

    done = "The limit no longer holds."

    def act(self, limit: int) -> str:
        """Take it away."""
        drop_life_limit(actor=self.actor, limit_id=limit, reason=self.request.POST.get("reason", ""))
        return reverse("fleet:life-limits")


class DispositionForm(forms.Form):
    """How a removed part is kept apart."""

    method = forms.ChoiceField(choices=Installation.Disposition.choices, widget=forms.RadioSelect)
    words = forms.CharField(
        label="More about it", max_length=200, required=False, help_text="Needed for another method."
    )


class DispositionScreen(FormScreen):
    """Say how a removed life-limited part is kept from being fitted beyond its life."""

    template_name = "fleet/disposition.html"
    form_class = DispositionForm
    verb = Verb.REPORT_EVENT
    done = "The disposition is recorded."

    def page(self, installation: int) -> dict[str, Any]:
        """The part and where it came out."""
        rows = Installation.objects.filter(aircraft__operator_id=self.actor.operator_id)
        row = (
            rows.select_related("component__kind", "aircraft__base", "position")
            .filter(pk=installation)
            .first()
        )
        if row is None:
            raise NotFound("installation_not_found", "There is no such installation here.")
        return {"row": row}

    def act(self, data: dict[str, Any]) -> str:
        """Record it."""
        row = record_disposition(actor=self.actor, installation_id=self.kwargs["installation"], **data)
        return reverse("fleet:component", args=[row.component_id])


class ScrapScreen(CommandScreen):
    """The end of a component."""

    done = "The component is scrapped."

    def act(self, component: int) -> str:
        """Scrap it."""
        scrap_component(actor=self.actor, component_id=component, reason=self.request.POST.get("reason", ""))
        return reverse("fleet:component", args=[component])


class UpliftForm(forms.Form):
    """Fluid that went into an aircraft, as written."""

    lot_id = forms.TypedChoiceField(label="Lot", coerce=int)
    aircraft_id = forms.TypedChoiceField(label="Aircraft", coerce=int)
    at = MomentField(label="When (UTC)")
    amount = forms.CharField(max_length=24, help_text="As read: 20.8")
    unit = forms.ChoiceField(choices=VOLUMES)

    def __init__(self, *arguments: Any, actor: Actor, **named: Any) -> None:
        super().__init__(*arguments, **named)
        lots = usable_lots(actor, local_day("UTC"))
        offer(self, "lot_id", [(lot.pk, f"{lot.batch} ({lot.specification}, {lot.base})") for lot in lots])
        offer(self, "aircraft_id", [(row.pk, row.registration) for row in aircraft_list(actor)])


class UpliftScreen(FormScreen):
    """Record fluid that went into an aircraft."""

    template_name = "fleet/stock_form.html"
    form_class = UpliftForm
    verb = Verb.RECORD_UPLIFT
    done = "The uplift is recorded."

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the actor to the form, and the lot somebody came from."""
        initial = {"at": now(), "lot_id": self.request.GET.get("lot")}
        return {**super().get_form_kwargs(), "actor": self.actor, "initial": initial}

    def page(self) -> dict[str, Any]:
        """Words of the page."""
        return {"title": "Record an uplift", "submit": "Record the uplift"}

    def act(self, data: dict[str, Any]) -> str:
        """Record it."""
        uplift = record_uplift(actor=self.actor, new=NewUplift(**data))
        return reverse("fleet:lot", args=[uplift.lot_id])
