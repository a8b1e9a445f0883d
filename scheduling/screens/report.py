"""Reporting an event, step by step: aircraft, what happened, where, and the details."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.urls import reverse
from django.utils.http import urlencode

from fleet.common.actor import Verb, require
from fleet.common.clock import now
from fleet.common.errors import NotFound
from fleet.models import Aircraft, Position
from fleet.screens.base import FormScreen
from fleet.selectors.aircraft import (
    aircraft_for,
    aircraft_list,
    components_in_store,
    configuration_at,
    position_for,
    positions_of,
)
from scheduling.models import EventKind
from scheduling.screens.event_forms import ReportForm
from scheduling.selectors.events import reportable_kinds
from scheduling.services.events import EventReport, report_event

Change = EventKind.Change
CHANGE_WORDS = {
    Change.NONE: "Nothing is fitted or removed.",
    Change.REPLACE: "One part comes off, another goes on.",
    Change.REFIT: "The same part comes off and goes back.",
    Change.REMOVE: "A part comes off.",
    Change.FIT: "A part goes on where none sits.",
}


@dataclass(frozen=True, slots=True)
class Chosen:
    """What earlier steps have settled; None is still to be chosen."""

    aircraft: Aircraft | None
    kind: EventKind | None
    position: Position | None

    @property
    def needs_position(self) -> bool:
        """Whether this kind of event must name a place."""
        kind = self.kind
        return kind is not None and (kind.needs_position or kind.change != Change.NONE)

    @property
    def step(self) -> str:
        """The step that comes now."""
        if self.aircraft is None:
            return "aircraft"
        if self.kind is None:
            return "kind"
        return "position" if self.needs_position and self.position is None else "details"


class ReportScreen(FormScreen):
    """One step at a time; every step is an address, so going back loses nothing."""

    template_name = "scheduling/report.html"
    form_class = ReportForm

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.user.is_authenticated:
            require(self.actor, Verb.REPORT_EVENT)
        return super().dispatch(request, *args, **kwargs)

    @property
    def chosen(self) -> Chosen:
        """What the address says is settled; what does not exist is asked again."""
        if not hasattr(self, "_chosen"):
            self._chosen = _chosen(self.actor, self.request.GET)
        return self._chosen

    def get_form(self, form_class: Any = None) -> Any:
        return super().get_form(form_class) if self.chosen.step == "details" else None

    def get_form_kwargs(self) -> dict[str, Any]:
        chosen = self.chosen
        aircraft, kind = _settled(chosen)
        fits = kind.change in (Change.REPLACE, Change.FIT)
        store = components_in_store(self.actor, chosen.position.kind) if fits and chosen.position else []
        return {
            **super().get_form_kwargs(),
            "aircraft": aircraft,
            "kind": kind,
            "positions": [] if chosen.needs_position else _places(chosen),
            "store": list(store),
        }

    def get_initial(self) -> dict[str, Any]:
        return {"key": uuid4().hex}

    def page(self) -> dict[str, Any]:
        """The step, what was chosen so far, and what may be chosen now."""
        chosen = self.chosen
        return {
            "step": chosen.step,
            "chosen": chosen,
            "fitted": _fitted(chosen),
            "choices": _choices(self.actor, chosen),
            "change": CHANGE_WORDS[Change(chosen.kind.change)] if chosen.kind else "",
        }

    def post(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        if self.chosen.step != "details":
            return self.get(request, *args, **kwargs)
        return super().post(request, *args, **kwargs)

    def act(self, data: dict[str, Any]) -> str:
        """Report it, and show what was raised and why."""
        chosen, form = self.chosen, self._bound
        aircraft, kind = _settled(chosen)
        report = EventReport(
            aircraft_id=aircraft.pk,
            kind_code=kind.code,
            at=data["at"],
            key=data["key"],
            position_code=chosen.position.code if chosen.position else data.get("position", ""),
            component_on_id=form.component_on_id(),
            new_component=form.new_component(),
            note=data["note"],
            photo=data["photo"],
            by_hand=True,
        )
        reported = report_event(actor=self.actor, report=report)
        messages.success(
            self.request, "Reported already; nothing was doubled." if reported.repeated else "Reported."
        )
        return reverse("scheduling:event", args=[reported.event.pk])

    def form_valid(self, form: Any) -> HttpResponse:
        self._bound = form
        return super().form_valid(form)


def _chosen(actor: Any, query: Any) -> Chosen:
    aircraft = kind = position = None
    if query.get("aircraft"):
        aircraft = aircraft_for(actor, query["aircraft"])
    if aircraft and query.get("kind"):
        kind = reportable_kinds(actor).filter(code=query["kind"]).first()
    if aircraft and kind and query.get("position"):
        try:
            position = position_for(aircraft, query["position"])
        except NotFound:
            position = None
    if position and kind and kind.component_kinds and position.kind.code not in kind.component_kinds:
        position = None
    return Chosen(aircraft, kind, position)


def _settled(chosen: Chosen) -> tuple[Aircraft, EventKind]:
    """Aircraft and kind, which later steps stand on."""
    if chosen.aircraft is None or chosen.kind is None:
        raise NotFound("step_not_reached", "Choose the aircraft and what happened first.")
    return chosen.aircraft, chosen.kind


def _places(chosen: Chosen) -> list[Position]:
    """The positions of the aircraft that this kind of event is about."""
    aircraft, kind = _settled(chosen)
    wanted = kind.component_kinds
    return [p for p in positions_of(aircraft) if not wanted or p.kind.code in wanted]


def _fitted(chosen: Chosen) -> Any:
    """What sits at the chosen place now, if anything."""
    if chosen.aircraft is None or chosen.position is None:
        return None
    return configuration_at(chosen.aircraft, now()).filter(position=chosen.position).first()


def _choices(actor: Any, chosen: Chosen) -> list[tuple[str, str, str]]:
    """Address, name and words of each thing that may be chosen now."""
    if chosen.step == "aircraft":
        rows = aircraft_list(actor).order_by("registration")
        return [(_to(aircraft=a.registration), a.registration, f"{a.aircraft_type}, {a.base}") for a in rows]
    assert chosen.aircraft  # noqa: S101 - chosen before
    registration = chosen.aircraft.registration
    if chosen.step == "kind":
        return [
            (_to(aircraft=registration, kind=kind.code), kind.name, CHANGE_WORDS[Change(kind.change)])
            for kind in reportable_kinds(actor)
        ]
    if chosen.step == "position" and chosen.kind:
        holds = {row.position_id: str(row.component) for row in configuration_at(chosen.aircraft, now())}
        return [
            (
                _to(aircraft=registration, kind=chosen.kind.code, position=place.code),
                place.name,
                f"holds {holds[place.pk]}" if place.pk in holds else "empty",
            )
            for place in _places(chosen)
            if _makes_sense(chosen.kind, place.pk in holds)
        ]
    return []


def _makes_sense(kind: EventKind, is_taken: bool) -> bool:
    """Nothing comes off an empty place, and nothing goes on a taken one."""
    if kind.change == Change.NONE:
        return True
    return is_taken is (kind.change != Change.FIT)


def _to(**query: str) -> str:
    return f"{reverse('scheduling:report-event')}?{urlencode(query)}"
