"""Reads about reminders: one's inbox, choices, ladders, endpoints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Case, IntegerField, Q, QuerySet, Value, When

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import NotFound
from fleet.models import Base
from fleet.selectors.people import operator_of
from scheduling.due.ladder import Ladder, ladder_from_data
from scheduling.gather.reminding import usual_ladders
from scheduling.models import Consequence, Reminder, ReminderChoice, ReminderLadder, WebhookEndpoint

VIEWS = ("open", "put_off", "answered")
WORST_FIRST = Case(
    When(stage__in=["overdue", "escalated"], then=Value(0)),
    When(stage="reached", then=Value(1)),
    default=Value(2),
    output_field=IntegerField(),
)


def _own(actor: Actor) -> QuerySet[Reminder]:
    return Reminder.objects.filter(
        operator_id=actor.operator_id, recipient_id=actor.user_id, channel=Reminder.Channel.PRODUCT
    ).select_related("applicability__aircraft", "task__aircraft")


def reminders_for(actor: Actor, view: str = "open") -> QuerySet[Reminder]:
    """The actor's own reminders: open ones worst first, those put off, or those answered or settled."""
    rows = _own(actor).annotate(worst=WORST_FIRST)
    waits = Q(acknowledged_at=None, settled_at=None)
    later = Q(snoozed_until__gt=now())
    if view == "put_off":
        return rows.filter(waits & later).order_by("snoozed_until", "id")
    if view == "answered":
        return rows.filter(~waits).order_by("-send_after", "-id")
    return rows.filter(waits & ~later).order_by("worst", "-send_after", "-id")


def reminder_for(actor: Actor, reminder_id: int) -> Reminder:
    """One reminder of the actor's own; anybody else's is not found."""
    row = _own(actor).filter(pk=reminder_id).first()
    if row is None:
        raise NotFound("reminder_not_found", "There is no such reminder for you.")
    return row


def unread_count(actor: Actor) -> int:
    """How many open reminders the actor has not had before their eyes yet: one query over an index."""
    return reminders_for(actor).filter(seen_at=None).count()


def zone_of(actor: Actor) -> str:
    """The zone the actor reads times in: that of their base, or the operator's where they have none."""
    zone = Base.objects.filter(pk=actor.base_id or 0).values_list("zone", flat=True).first()
    return zone or operator_of(actor).day_zone


def mail_choice(actor: Actor) -> str:
    """How the actor gets mail."""
    row = ReminderChoice.objects.filter(operator_id=actor.operator_id, person_id=actor.user_id).first()
    return row.by_mail if row else ReminderChoice.ByMail.DIGEST.value


@dataclass(frozen=True, slots=True)
class LadderInForce:
    """The ladder of one consequence: the operator's own (version above 0) or the usual."""

    consequence: str
    steps: dict[str, Any]
    ladder: Ladder
    version: int

    @property
    def is_own(self) -> bool:
        """Whether the operator wrote it."""
        return self.version > 0

    @property
    def label(self) -> str:
        """What something with this consequence stops."""
        return str(Consequence(self.consequence).label)


def ladders(actor: Actor) -> list[LadderInForce]:
    """The ladder in force for every consequence."""
    own = {row.consequence: row for row in ReminderLadder.objects.filter(operator_id=actor.operator_id)}
    found = []
    for value in Consequence.values:
        row = own.get(value)
        steps = row.steps if row else usual_ladders()[value]
        found.append(LadderInForce(value, steps, ladder_from_data(steps), row.version if row else 0))
    return found


def ladder_for(actor: Actor, consequence: str) -> LadderInForce:
    """The ladder of one consequence."""
    found = next((one for one in ladders(actor) if one.consequence == consequence), None)
    if found is None:
        raise NotFound("ladder_not_found", "There is no such consequence.")
    return found


def endpoints(actor: Actor) -> QuerySet[WebhookEndpoint]:
    """Where webhooks go, for the administrator."""
    require(actor, Verb.EDIT_PEOPLE)
    return WebhookEndpoint.objects.filter(operator_id=actor.operator_id).order_by("label", "id")


def endpoint_for(actor: Actor, endpoint_id: int) -> WebhookEndpoint:
    """One endpoint; a stranger's is not found."""
    row = endpoints(actor).filter(pk=endpoint_id).first()
    if row is None:
        raise NotFound("endpoint_not_found", "There is no such endpoint here.")
    return row


def last_messages(actor: Actor, most: int = 20) -> QuerySet[Reminder]:
    """The newest webhook messages and what became of them."""
    require(actor, Verb.EDIT_PEOPLE)
    rows = Reminder.objects.filter(operator_id=actor.operator_id, channel=Reminder.Channel.WEBHOOK)
    return rows.select_related("endpoint").order_by("-written_at", "-id")[:most]
