"""Events: the list, and one event with everything it led to and why."""

from __future__ import annotations

import mimetypes
from typing import Any

from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest
from django.views.generic import View

from fleet.common.actor import Verb
from fleet.common.errors import NotFound
from fleet.screens.base import Screen, ScreenMixin
from fleet.selectors.aircraft import aircraft_list
from scheduling.screens.words import base_choices, task_level
from scheduling.selectors.events import event_for, event_kinds, events, story_of
from scheduling.selectors.tasks import by_when

ROWS = 50


class EventListScreen(Screen):
    """Everything that was reported, newest first."""

    template_name = "scheduling/events.html"

    def page(self) -> dict[str, Any]:
        """Rows and filters."""
        asked = self.request.GET
        rows = events(self.actor)
        if asked.get("aircraft"):
            rows = rows.filter(aircraft__registration=asked["aircraft"])
        if asked.get("kind"):
            rows = rows.filter(kind__code=asked["kind"])
        if asked.get("base"):
            rows = rows.filter(aircraft__base__code=asked["base"])
        if asked.get("q"):
            rows = rows.filter(note__icontains=asked["q"])
        fleet = aircraft_list(self.actor, withdrawn=True).values_list("registration", flat=True)
        return {
            "page": Paginator(rows, ROWS).get_page(asked.get("page")),
            "aircraft": [(registration, registration) for registration in fleet],
            "kinds": list(event_kinds(self.actor, retired=True).values_list("code", "name")),
            "bases": base_choices(self.actor),
            "may_report": self.actor.may(Verb.REPORT_EVENT),
        }


class EventScreen(Screen):
    """One event: what was reported, what it raised, and which rules came near."""

    template_name = "scheduling/event.html"

    def page(self, event_id: int) -> dict[str, Any]:
        """The whole story."""
        story = story_of(self.actor, event_for(self.actor, event_id))
        led_to = [(task, why, "raised") for task, why in story.raised]
        led_to += [(task, why, "joined") for task, why in story.joined]
        return {
            "event": story.event,
            "zone": story.event.aircraft.base.zone,
            "led_to": [(t, why, how, task_level(t), by_when(t)) for t, why, how in led_to],
            "notes": story.notes,
            "near_misses": story.near_misses,
            "may_withdraw": self.actor.may(Verb.RAISE_TASK),
            "open_ids": [t.pk for t, _, _ in led_to if t.is_open],
        }


class EventPhoto(ScreenMixin, View):
    """The photograph of an event, for those who may read it."""

    def get(self, request: HttpRequest, event_id: int) -> FileResponse:
        """The file as it was sent."""
        photo = event_for(self.actor, event_id).photo
        if not photo or not photo.name:
            raise NotFound("photo_not_found", "This event has no photograph.")
        kind = mimetypes.guess_type(photo.name)[0]
        return FileResponse(photo.open("rb"), content_type=kind or "application/octet-stream")
