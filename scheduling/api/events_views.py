"""Events: report, list, read with all they led to; kinds of event: list, add, retire."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.selectors.aircraft import aircraft_for
from fleet.services.configuration import NewComponent
from scheduling.api.answers import FORBIDS, KEY, MAKES_NO_SENSE, NOT_HERE, PAGING, asked, paged
from scheduling.api.events_shapes import (
    EventFilter,
    EventKindShape,
    EventShape,
    NewKindShape,
    ReportedShape,
    ReportShape,
    StoryShape,
)
from scheduling.selectors.events import event_for, event_kinds, events, story_of
from scheduling.services.events import EventReport, report_event
from scheduling.services.rules import KindText, add_event_kind, retire_event_kind


class EventListView(CommandView):
    """Events of the operator."""

    @extend_schema(
        operation_id="events_list",
        parameters=[asked("aircraft", "registration"), asked("kind", "code of a kind"), *PAGING],
        responses={200: paged(EventShape)},
    )
    def get(self, request: Request) -> Response:
        """Events, newest first."""
        query = self.query(EventFilter)
        rows = events(self.actor)
        rows = rows.filter(aircraft__registration__iexact=query["aircraft"]) if query["aircraft"] else rows
        rows = rows.filter(kind__code=query["kind"]) if query["kind"] else rows
        return self.page(rows, EventShape, ("-at", "-id"))

    @extend_schema(
        operation_id="events_report",
        parameters=[KEY],
        request=ReportShape,
        responses={201: ReportedShape, 200: ReportedShape, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Report an event; sent again with its key it answers the same (200)."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(ReportShape)
        reported = report_event(actor=self.actor, report=self._report(request, data))
        headers = {"Location": f"/api/v1/events/{reported.event.pk}/"}
        return Response(ReportedShape(reported).data, 200 if reported.repeated else 201, headers=headers)

    def _report(self, request: Request, data: dict[str, Any]) -> EventReport:
        new = data["new_component"]
        return EventReport(
            aircraft_id=aircraft_for(self.actor, data["aircraft"]).pk,
            kind_code=data["kind"],
            at=data["at"],
            key=data["key"] or request.headers.get("Idempotency-Key", ""),
            position_code=data["position"],
            component_on_id=data["component_on"],
            new_component=NewComponent(kind_code="", **new) if new else None,
            note=data["note"],
            detail=data["detail"],
            photo=data["photo"],
            by_hand=True,
        )


class EventView(ApiView):
    """One event."""

    @extend_schema(operation_id="events_read", responses={200: StoryShape, 404: NOT_HERE})
    def get(self, request: Request, event_id: int) -> Response:
        """One event with the tasks it led to, why, and the rules that came near."""
        story = story_of(self.actor, event_for(self.actor, event_id))
        pairs = {
            name: [{"task": task, "why": why} for task, why in getattr(story, name)]
            for name in ("raised", "joined")
        }
        body = {"event": story.event, "notes": story.notes, "near_misses": story.near_misses, **pairs}
        return Response(StoryShape(body).data)


class EventKindListView(CommandView):
    """Kinds of event."""

    @extend_schema(operation_id="event_kinds_list", responses={200: EventKindShape(many=True)})
    def get(self, request: Request) -> Response:
        """Every kind of event, retired ones too."""
        return Response(EventKindShape(event_kinds(self.actor, retired=True), many=True).data)

    @extend_schema(
        operation_id="event_kinds_add",
        parameters=[KEY],
        request=NewKindShape,
        responses={201: EventKindShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Add a kind of event."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(NewKindShape)
        text = KindText(**{**data, "component_kinds": tuple(data["component_kinds"])})
        return Response(EventKindShape(add_event_kind(actor=self.actor, kind=text)).data, 201)


class EventKindRetireView(CommandView):
    """Retire a kind of event."""

    @extend_schema(
        operation_id="event_kinds_retire",
        parameters=[KEY],
        request=None,
        responses={200: EventKindShape, 409: FORBIDS},
    )
    def post(self, request: Request, code: str) -> Response:
        """The kind is no longer reported; refused (409) while it is in use."""
        return super().post(request, code=code)

    def command(self, request: Request, code: str) -> Response:
        return Response(EventKindShape(retire_event_kind(actor=self.actor, code=code)).data)
