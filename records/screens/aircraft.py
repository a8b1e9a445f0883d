"""The page of one aircraft and the register of all."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.core.paginator import Paginator
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.clock import local_day
from fleet.models import Aircraft
from fleet.screens.base import Screen
from fleet.selectors.aircraft import aircraft_for
from fleet.selectors.meters import counters_now
from records.screens.links import link
from records.screens.sparks import spark_of
from records.screens.status import status_view
from records.screens.trends import row_of
from records.selectors.aircraft_sheet import (
    configuration,
    counters_as_of,
    due_next,
    events_of,
    flown_since,
    last_flights,
    open_tasks_on,
    records_of,
    register,
    running_reliefs,
)
from records.selectors.trends import TrendQuery, trend_states
from scheduling.models import Event, Procedure
from scheduling.selectors.status import status_of

VIEWS = {"": "Now", "fitted": "What is fitted", "trends": "Trends", "history": "History"}
STRETCHES = (7, 30, 90)


class AircraftList(Screen):
    """The register: every aircraft with its status."""

    template_name = "records/aircraft_list.html"

    def page(self) -> dict[str, Any]:
        """Aircraft, filtered by words, base and status."""
        asked = self.request.GET
        rows: list[dict[str, Any]] = [
            {"row": row, "status": status_view(row.status, row.aircraft.registration)}
            for row in register(self.actor, withdrawn=asked.get("withdrawn") == "yes")
        ]
        bases = sorted({(r["row"].aircraft.base.code, str(r["row"].aircraft.base)) for r in rows})
        words = asked.get("q", "").strip().lower()
        if words:
            rows = [r for r in rows if words in _searched(r["row"].aircraft)]
        if asked.get("base"):
            rows = [r for r in rows if r["row"].aircraft.base.code == asked["base"]]
        if asked.get("status"):
            rows = [r for r in rows if r["status"].level == asked["status"]]
        states = [("stop", "Not releasable"), ("soon", "Restricted"), ("clear", "Free to fly")]
        found = Paginator(rows, 50).get_page(asked.get("page"))
        return {"found": found, "bases": bases, "states": states, "withdrawn_options": [("yes", "Shown too")]}


def _searched(aircraft: Aircraft) -> str:
    return f"{aircraft.registration} {aircraft.aircraft_type} {aircraft.serial_number}".lower()


class AircraftPage(Screen):
    """One aircraft: what it may do and why, what is next, what is fitted, how it trends, what happened."""

    template_name = "records/aircraft.html"

    def page(self, registration: str) -> dict[str, Any]:
        """The head that every view shares, and the view that was asked for."""
        aircraft = aircraft_for(self.actor, registration)
        view = self.request.GET.get("view", "")
        view = view if view in VIEWS else ""
        status = status_of([aircraft.pk])[aircraft.pk]
        own = {"": self.now, "fitted": self.fitted, "trends": self.trends, "history": self.history}[view]
        address = reverse("records:aircraft", args=[aircraft.registration])
        return {
            "aircraft": aircraft,
            "zone": aircraft.base.zone,
            "view": VIEWS[view],
            "views": [(words, f"{address}?view={key}" if key else address) for key, words in VIEWS.items()],
            "status": status_view(status, aircraft.registration),
            "worsens_at": status.worsens_at,
            "counters": counters_now([aircraft.pk])[aircraft.pk],
            "counters_as_of": counters_as_of(aircraft.pk),
            "report_url": self._report_url(aircraft),
            "meters_url": link("fleet:meters", aircraft.registration),
            "change_url": self._change_url(aircraft),
            "may_export": self.actor.may(Verb.EXPORT),
            **own(aircraft),
        }

    def _report_url(self, aircraft: Aircraft) -> str:
        if not self.actor.may(Verb.REPORT_EVENT):
            return ""
        return link("scheduling:report-event", query=f"aircraft={aircraft.registration}")

    def _change_url(self, aircraft: Aircraft) -> str:
        if not self.actor.may(Verb.EDIT_FLEET):
            return ""
        return link("fleet:change-aircraft", aircraft.registration)

    def _relief_url(self, aircraft: Aircraft) -> str:
        if not self.actor.may(Verb.GRANT_RELIEF):
            return ""
        return link("scheduling:grant-relief", query=f"aircraft={aircraft.registration}")

    def now(self, aircraft: Aircraft) -> dict[str, Any]:
        """Open tasks, what is due next, relief, the last records and events."""
        today = local_day(aircraft.base.zone)
        return {
            "tasks": open_tasks_on(aircraft),
            "due": due_next(self.actor, aircraft),
            "due_url": link("scheduling:due-list", query=f"aircraft={aircraft.registration}"),
            "due_item_name": "scheduling:due-item",
            "reliefs": running_reliefs(aircraft),
            "relief_url": self._relief_url(aircraft),
            "records": list(records_of(aircraft)[:5]),
            "events": [event_entry(event) for event in events_of(aircraft)[:4]],
            "flown": [(days, flown_since(aircraft, today - timedelta(days=days - 1))) for days in STRETCHES],
        }

    def fitted(self, aircraft: Aircraft) -> dict[str, Any]:
        """Every position with its component and times."""
        return {"zones": configuration(aircraft), "component_url": bool(link("fleet:component", 1))}

    def trends(self, aircraft: Aircraft) -> dict[str, Any]:
        """Every trend of this aircraft, small."""
        states = trend_states(self.actor, TrendQuery(registration=aircraft.registration))
        titles = dict(
            Procedure.objects.filter(operator_id=self.actor.operator_id).values_list("code", "title")
        )
        return {
            "trend_rows": [
                (row_of(state), titles.get(state.procedure_code, ""), spark_of(state.detail.get("verdict")))
                for state in states
            ]
        }

    def history(self, aircraft: Aircraft) -> dict[str, Any]:
        """Events, records and flights."""
        events = Paginator(events_of(aircraft), 20).get_page(self.request.GET.get("page"))
        return {
            "events_page": events,
            "events": [event_entry(event) for event in events],
            "records": list(records_of(aircraft)[:20]),
            "flights": last_flights(aircraft),
            "flights_url": link("fleet:flights", query=f"aircraft={aircraft.registration}"),
        }


def event_entry(event: Event) -> dict[str, Any]:
    """An event as an entry of a timeline."""
    place = f", {event.position}" if event.position else ""
    parts = []
    if event.component_off and event.component_off != event.component_on:
        parts.append(f"off {event.component_off.serial_number}")
    if event.component_on and event.component_off != event.component_on:
        parts.append(f"on {event.component_on.serial_number}")
    if event.note:
        parts.append(event.note.rstrip("."))
    raised = {cause.task_id: cause.task for cause in event.causes.all()}
    if raised:
        parts.append(
            "led to " + ", ".join(f"{task.title} ({task.get_state_display()})" for task in raised.values())
        )
    return {
        "when": event.at,
        "what": f"{event.kind.name}{place}",
        "who": event.reported_by_name,
        "detail": "; ".join(parts),
        "url": link("scheduling:event", event.pk),
        "level": "soon" if any(task.is_open for task in raised.values()) else "clear",
    }
