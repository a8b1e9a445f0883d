"""Flights: the log, one more, one taken back; meters with their readings and corrections."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.dateparse import parse_date

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.models import FlightEntry
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, FormScreen, Screen
from fleet.screens.flight_forms import FlightForm, ReadingForm
from fleet.selectors.aircraft import aircraft_for, aircraft_list
from fleet.selectors.meters import flights, meter_for, meters, readings
from fleet.services.meters import (
    NewFlight,
    NewReading,
    correct_reading,
    post_flight,
    post_reading,
    void_flight,
)


def found_flights(screen: Screen) -> QuerySet[FlightEntry]:
    """The flights the query asks for; a day that is none is left out."""
    asked, rows = screen.request.GET, flights(screen.actor)
    if asked.get("aircraft"):
        rows = rows.filter(aircraft=aircraft_for(screen.actor, asked["aircraft"]))
    batch = plain_number(asked.get("batch", ""))
    if batch is not None:
        rows = rows.filter(batch_id=batch)
    for name, lookup in (("since", "day__gte"), ("until", "day__lte")):
        day = _day(asked.get(name, ""))
        if day is not None:
            rows = rows.filter(**{lookup: day})
    return rows.filter(reference__icontains=asked["q"]) if asked.get("q") else rows


def _day(text: str) -> Any:
    try:
        return parse_date(text)
    except ValueError:
        return None


class FlightsScreen(Screen):
    """The log, newest first."""

    template_name = "fleet/flights.html"

    def page(self) -> dict[str, Any]:
        """One page of flights, narrowed by aircraft, days and reference."""
        asked = self.request.GET
        return {
            "page": Paginator(found_flights(self), 25).get_page(asked.get("page")),
            "aircraft": [
                (row.registration, row.registration) for row in aircraft_list(self.actor, withdrawn=True)
            ],
            "one": asked.get("aircraft", ""),
            "may_post": self.actor.may(Verb.POST_FLIGHT),
            "may_correct": self.actor.may(Verb.CORRECT_METER),
            "is_filtered": any(asked.get(name) for name in ("q", "aircraft", "since", "until", "batch")),
        }


class PostFlightScreen(FormScreen):
    """One flight more."""

    template_name = "fleet/flight_form.html"
    verb = Verb.POST_FLIGHT
    form_class = FlightForm
    done = "The flight is posted and the counters have moved."

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the actor to the form, and the aircraft somebody came from."""
        known = {row.registration: row.pk for row in aircraft_list(self.actor)}
        chosen = known.get(self.request.GET.get("aircraft", ""))
        return {**super().get_form_kwargs(), "actor": self.actor, "initial": {"aircraft": chosen}}

    def act(self, data: dict[str, Any]) -> str:
        """Post it."""
        entry, _ = post_flight(actor=self.actor, flight=NewFlight(aircraft_id=data.pop("aircraft"), **data))
        return f"{reverse('fleet:flights')}?aircraft={entry.aircraft.registration}"


class VoidFlightScreen(CommandScreen):
    """One flight taken back."""

    done = "The flight is void: the counters no longer hold it, the log still shows it."

    def act(self, flight: int) -> str:
        """Void it."""
        entry = void_flight(actor=self.actor, flight_id=flight, reason=self.request.POST.get("reason", ""))
        return f"{reverse('fleet:flights')}?aircraft={entry.aircraft.registration}"


class MetersScreen(Screen):
    """The meters of one aircraft and what was stated about them."""

    template_name = "fleet/meters.html"

    def page(self, registration: str) -> dict[str, Any]:
        """Each meter with its newest statements."""
        aircraft = aircraft_for(self.actor, registration)
        rows = meters(self.actor).filter(aircraft=aircraft)
        return {
            "aircraft": aircraft,
            "meters": [(row, row.kind == "minutes", readings(row)[:12]) for row in rows],
            "may_read": self.actor.may(Verb.POST_FLIGHT),
            "may_edit": self.actor.may(Verb.EDIT_FLEET),
        }


class ReadingScreen(FormScreen):
    """A reading, or with a reason a correction."""

    template_name = "fleet/reading_form.html"
    verb = Verb.POST_FLIGHT
    form_class = ReadingForm
    done = "The meter says so now."

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the meter to the form; it was read just now unless said otherwise."""
        meter = meter_for(self.actor, self.kwargs["meter"])
        may_correct = self.actor.may(Verb.CORRECT_METER)
        more = {"meter": meter, "may_correct": may_correct, "initial": {"at": now()}}
        return {**super().get_form_kwargs(), **more}

    def page(self, meter: int) -> dict[str, Any]:
        """The meter and what is known."""
        row = meter_for(self.actor, meter)
        return {"meter": row, "is_time": row.kind in ("minutes", "use_minutes")}

    def act(self, data: dict[str, Any]) -> str:
        """State it, or correct it."""
        meter = meter_for(self.actor, self.kwargs["meter"])
        reason = data.get("reason", "").strip()
        reading = NewReading(meter.pk, data["at"], data["value"], reason)
        act = correct_reading if reason else post_reading
        act(actor=self.actor, reading=reading)
        if meter.aircraft is None:
            return reverse("fleet:component", args=[meter.component_id])
        return reverse("fleet:meters", args=[meter.aircraft.registration])
