"""Reminders, how they are sent, calendar links and webhook endpoints."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag
from scheduling.api.answers import (
    FORBIDS,
    IF_MATCH,
    KEY,
    MAKES_NO_SENSE,
    NOT_HERE,
    PAGING,
    STALE,
    asked,
    paged,
)
from scheduling.api.plan_shapes import (
    CalendarLinkShape,
    EndpointChange,
    EndpointShape,
    LadderShape,
    MadeCalendarLinkShape,
    MadeEndpointShape,
    MailChoiceShape,
    NewCalendarLinkShape,
    ReminderFilter,
    ReminderShape,
    SnoozeShape,
)
from scheduling.jobs import send_reminders
from scheduling.selectors.calendar import calendar_links
from scheduling.selectors.reminders import (
    LadderInForce,
    endpoint_for,
    endpoints,
    ladder_for,
    ladders,
    mail_choice,
    reminder_for,
    reminders_for,
)
from scheduling.services.calendar_links import create_link, revoke_link
from scheduling.services.reminder_settings import choose_mail, set_ladder
from scheduling.services.reminders import acknowledge, snooze
from scheduling.services.webhooks import add_endpoint, remove_endpoint, switch_endpoint, try_endpoint


class ReminderListView(ApiView):
    """One's own reminders."""

    @extend_schema(
        operation_id="reminders_list",
        parameters=[asked("view", "open, put_off or answered"), *PAGING],
        responses={200: paged(ReminderShape), 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """Those that wait for an answer, are put off, or are answered; newest first."""
        rows = reminders_for(self.actor, self.query(ReminderFilter)["view"])
        return self.page(rows, ReminderShape, ("-send_after", "-id"))


class ReminderAcknowledgeView(CommandView):
    """Take note."""

    @extend_schema(
        operation_id="reminders_acknowledge",
        parameters=[KEY],
        request=None,
        responses={200: ReminderShape, 404: NOT_HERE},
    )
    def post(self, request: Request, reminder_id: int) -> Response:
        """Acknowledge a reminder of one's own; nobody is told that it was not."""
        return super().post(request, reminder_id=reminder_id)

    def command(self, request: Request, reminder_id: int) -> Response:
        acknowledge(actor=self.actor, reminder_ids=[reminder_id])
        return Response(ReminderShape(reminder_for(self.actor, reminder_id)).data)


class ReminderSnoozeView(CommandView):
    """Put off."""

    @extend_schema(
        operation_id="reminders_snooze",
        parameters=[KEY],
        request=SnoozeShape,
        responses={200: ReminderShape, 404: NOT_HERE, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, reminder_id: int) -> Response:
        """Put a reminder of one's own off, with a reason, for at most 30 days."""
        return super().post(request, reminder_id=reminder_id)

    def command(self, request: Request, reminder_id: int) -> Response:
        snooze(actor=self.actor, reminder_id=reminder_id, **self.parsed(SnoozeShape))
        return Response(ReminderShape(reminder_for(self.actor, reminder_id)).data)


class MailChoiceView(CommandView):
    """How one gets mail."""

    @extend_schema(operation_id="mail_choice_read", responses={200: MailChoiceShape})
    def get(self, request: Request) -> Response:
        """The present choice."""
        return Response({"by_mail": mail_choice(self.actor)})

    @extend_schema(
        operation_id="mail_choice_set",
        parameters=[KEY],
        request=MailChoiceShape,
        responses={200: MailChoiceShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Choose digest, at_once or none."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        row = choose_mail(actor=self.actor, by_mail=self.parsed(MailChoiceShape)["by_mail"])
        return Response({"by_mail": row.by_mail})


def ladder_tag(one: LadderInForce) -> str:
    return entity_tag("ladder", one.consequence, one.version)


class LadderListView(ApiView):
    """Reminder steps."""

    @extend_schema(operation_id="reminder_ladders_list", responses={200: LadderShape(many=True)})
    def get(self, request: Request) -> Response:
        """The steps in force for every consequence."""
        return Response(LadderShape(ladders(self.actor), many=True).data)


class LadderView(ApiView):
    """Reminder steps of one consequence."""

    @extend_schema(operation_id="reminder_ladders_read", responses={200: LadderShape, 404: NOT_HERE})
    def get(self, request: Request, consequence: str) -> Response:
        """The steps in force and their entity tag."""
        return self._answer(consequence)

    @extend_schema(
        operation_id="reminder_ladders_write",
        parameters=[IF_MATCH],
        request=LadderShape,
        responses={200: LadderShape, 404: NOT_HERE, 412: STALE, 422: MAKES_NO_SENSE},
    )
    def put(self, request: Request, consequence: str) -> Response:
        """Write the operator's own steps."""
        self.must_match(ladder_tag(ladder_for(self.actor, consequence)))
        steps = self.parsed(LadderShape)["steps"]
        set_ladder(actor=self.actor, consequence=consequence, steps=steps if isinstance(steps, dict) else {})
        return self._answer(consequence)

    @extend_schema(
        operation_id="reminder_ladders_reset",
        parameters=[IF_MATCH],
        responses={204: None, 404: NOT_HERE, 412: STALE},
    )
    def delete(self, request: Request, consequence: str) -> Response:
        """Go back to the usual steps."""
        self.must_match(ladder_tag(ladder_for(self.actor, consequence)))
        set_ladder(actor=self.actor, consequence=consequence, steps=None)
        return Response(status=204)

    def _answer(self, consequence: str) -> Response:
        one = ladder_for(self.actor, consequence)
        return Response(LadderShape(one).data, headers={"ETag": ladder_tag(one)})


class CalendarLinkListView(ApiView):
    """Calendar links."""

    @extend_schema(operation_id="calendar_links_list", responses={200: CalendarLinkShape(many=True)})
    def get(self, request: Request) -> Response:
        """One's own links."""
        return Response(CalendarLinkShape(calendar_links(self.actor), many=True).data)

    @extend_schema(
        operation_id="calendar_links_create",
        request=NewCalendarLinkShape,
        responses={201: MadeCalendarLinkShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Make a link. Its address is in this answer and nowhere else, so no key repeats it."""
        data = self.parsed(NewCalendarLinkShape)
        made = create_link(
            actor=self.actor, label=data["label"], base_code=data["base"], registration=data["aircraft"]
        )
        address = request.build_absolute_uri(reverse("scheduling:calendar-feed", args=[made.key]))
        return _secret(CalendarLinkShape(made.link).data, "address", address)


class CalendarLinkView(ApiView):
    """One calendar link."""

    @extend_schema(operation_id="calendar_links_revoke", responses={204: None, 404: NOT_HERE})
    def delete(self, request: Request, link_id: int) -> Response:
        """End it."""
        revoke_link(actor=self.actor, link_id=link_id)
        return Response(status=204)


class EndpointListView(ApiView):
    """Webhook endpoints."""

    @extend_schema(operation_id="webhook_endpoints_list", responses={200: EndpointShape(many=True)})
    def get(self, request: Request) -> Response:
        """Where webhooks go; for the administrator."""
        return Response(EndpointShape(endpoints(self.actor), many=True).data)

    @extend_schema(
        operation_id="webhook_endpoints_add",
        request=EndpointShape,
        responses={201: MadeEndpointShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Register an address. Its secret is in this answer and nowhere else, so no key repeats it."""
        data = self.parsed(EndpointShape)
        made = add_endpoint(actor=self.actor, label=data["label"], url=data["url"])
        return _secret(EndpointShape(made.endpoint).data, "secret", made.secret)


class EndpointView(ApiView):
    """One webhook endpoint."""

    @extend_schema(operation_id="webhook_endpoints_remove", responses={204: None, 404: NOT_HERE})
    def delete(self, request: Request, endpoint_id: int) -> Response:
        """Take it away."""
        remove_endpoint(actor=self.actor, endpoint_id=endpoint_id)
        return Response(status=204)


class EndpointSwitchView(CommandView):
    """Switch an endpoint."""

    @extend_schema(
        operation_id="webhook_endpoints_switch",
        parameters=[KEY],
        request=EndpointChange,
        responses={200: EndpointShape, 404: NOT_HERE},
    )
    def post(self, request: Request, endpoint_id: int) -> Response:
        """On or off."""
        return super().post(request, endpoint_id=endpoint_id)

    def command(self, request: Request, endpoint_id: int) -> Response:
        enabled = self.parsed(EndpointChange)["is_enabled"]
        switch_endpoint(actor=self.actor, endpoint_id=endpoint_id, enabled=enabled)
        return Response(EndpointShape(endpoint_for(self.actor, endpoint_id)).data)


class EndpointTestView(CommandView):
    """Try an endpoint."""

    @extend_schema(
        operation_id="webhook_endpoints_try",
        parameters=[KEY],
        request=None,
        responses={202: EndpointShape, 404: NOT_HERE, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, endpoint_id: int) -> Response:
        """Send a test message; it goes out as any other does."""
        return super().post(request, endpoint_id=endpoint_id)

    def command(self, request: Request, endpoint_id: int) -> Response:
        try_endpoint(actor=self.actor, endpoint_id=endpoint_id)
        send_reminders.delay_on_commit()
        return Response(EndpointShape(endpoint_for(self.actor, endpoint_id)).data, status=202)


def _secret(data: Any, name: str, value: str) -> Response:
    """An answer that carries a secret once."""
    return Response({**data, name: value}, status=201, headers={"Cache-Control": "no-store"})
