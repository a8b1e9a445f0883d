"""Components: where each sits, its times that follow it from aircraft to aircraft, its life, its labels."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.generic import View

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.pdf.labels import Label, render_labels
from fleet.models import Component, Installation
from fleet.screens.base import FormScreen, Screen, ScreenMixin
from fleet.screens.stock_forms import day_field
from fleet.selectors.aircraft import aircraft_list, component_for, component_kinds, components, place_of
from fleet.selectors.life import life_of
from fleet.selectors.meters import Counters, component_times
from fleet.services.configuration import record_overhaul


def found_components(screen: Screen | ScreenMixin) -> QuerySet[Component]:
    """The components the query asks for, each with where it sits."""
    asked = screen.request.GET
    here = Installation.objects.filter(component=OuterRef("pk"), removed_at=None)
    rows = components(screen.actor).annotate(
        registration=Subquery(here.values("aircraft__registration")[:1]),
        place=Subquery(here.values("position__name")[:1]),
    )
    if asked.get("q"):
        rows = rows.filter(Q(serial_number__icontains=asked["q"]) | Q(part_number__icontains=asked["q"]))
    if asked.get("kind"):
        rows = rows.filter(kind__code=asked["kind"])
    if asked.get("where") == "store":
        rows = rows.filter(registration=None, scrapped_on=None)
    elif asked.get("where"):
        rows = rows.filter(registration=asked["where"])
    return rows


class ComponentsScreen(Screen):
    """Every component with its place."""

    template_name = "fleet/components.html"

    def page(self) -> dict[str, Any]:
        """One page of them, narrowed by kind, place and number."""
        asked = self.request.GET
        places = [
            ("store", "In store"),
            *((row.registration, row.registration) for row in aircraft_list(self.actor)),
        ]
        return {
            "page": Paginator(found_components(self), 50).get_page(asked.get("page")),
            "kinds": [(kind.code, kind.name) for kind in component_kinds(self.actor)],
            "places": places,
            "is_filtered": any(asked.get(name) for name in ("q", "kind", "where")),
        }


class OverhaulForm(forms.Form):
    """An overhaul as its release document says."""

    done_on = day_field("Overhauled on")
    release_document = forms.CharField(max_length=80)


class ComponentScreen(FormScreen):
    """One component: times, life left in every parameter, where it was; an overhaul is entered here."""

    template_name = "fleet/component.html"
    form_class = OverhaulForm
    done = "The overhaul is entered: time since overhaul starts again."

    def page(self, component: int) -> dict[str, Any]:
        """Times at this moment and the whole history."""
        row = component_for(self.actor, component)
        times = component_times(row, now())
        registration, place = place_of(row)
        history = row.installations.select_related("aircraft", "position").order_by("-fitted_at", "-id")
        return {
            "component": row,
            "registration": registration,
            "place": place,
            "times": [
                ("Since new", times.since_new),
                ("Since overhaul", times.since_overhaul),
                ("Since fitted", times.since_fitted),
            ],
            "life": life_of(row, now()),
            "history": [(one, _flown(one)) for one in history],
            "overhauls": row.overhauls.order_by("-done_on"),
            "may_edit": self.actor.may(Verb.EDIT_FLEET) and row.scrapped_on is None,
            "may_dispose": self.actor.may(Verb.REPORT_EVENT) and row.scrapped_on is None,
        }

    def act(self, data: dict[str, Any]) -> str:
        """Enter the overhaul."""
        key = self.kwargs["component"]
        record_overhaul(actor=self.actor, component_id=key, **data)
        return reverse("fleet:component", args=[key])


def _flown(row: Installation) -> Counters | None:
    """What it flew in one place; None while it is still there."""
    if row.removed_minutes is None:
        return None
    before = Counters(row.fitted_minutes, row.fitted_landings, row.fitted_cycles)
    return Counters(row.removed_minutes, row.removed_landings or 0, row.removed_cycles or 0) - before


class ComponentLabelsScreen(ScreenMixin, View):
    """A printable sheet of labels for the components the query asks for (at most 240)."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The sheet as PDF."""
        labels = [
            Label(
                (str(row.kind.name), f"P/N {row.part_number}", f"S/N {row.serial_number}"),
                request.build_absolute_uri(f"/q/c/{row.pk}/"),
            )
            for row in found_components(self)[:240]
        ]
        return _sheet(labels, "component-labels.pdf")


class AircraftLabelsScreen(ScreenMixin, View):
    """A printable sheet of labels, one for every aircraft."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The sheet as PDF."""
        labels = [
            Label(
                (row.registration, row.aircraft_type.name, f"S/N {row.serial_number}"),
                request.build_absolute_uri(f"/q/a/{row.registration}/"),
            )
            for row in aircraft_list(self.actor)
        ]
        return _sheet(labels, "aircraft-labels.pdf")


def _sheet(labels: list[Label], name: str) -> HttpResponse:
    if not labels:
        return HttpResponse("There is nothing to label.", status=404, content_type="text/plain")
    answer = HttpResponse(render_labels(labels), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
