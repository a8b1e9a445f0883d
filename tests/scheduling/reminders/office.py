"""An operator with one due item a few days off, and ways to let days pass."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from fleet.common.actor import Actor, Role, system_actor
from fleet.models import User
from scheduling.models import Applicability, Reminder, WebhookEndpoint
from scheduling.services.due import refresh_due
from scheduling.services.reminders import Written, write_due_reminders
from tests.makers import NOON, House, make_house
from tests.scheduling.due.makers import apply, make_requirement

DAY = date(2025, 3, 3)
LADDER = {
    "days": [30, 14, 7, 1],
    "hours": ["25:00", "10:00"],
    "to": ["controller"],
    "overdue_to": ["director"],
}
KNOWN_SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"


@dataclass(frozen=True, slots=True)
class Office:
    """A house whose aircraft has one item by the calendar."""

    house: House
    item: Applicability

    @property
    def system(self) -> Actor:
        return system_actor(self.house.operator.pk, "test")

    def actor(self, role: str) -> Actor:
        return self.house.actor(role)

    def person(self, role: str) -> User:
        return self.house.person(role)

    def look(self) -> Written:
        """One look at everything, as the job does it."""
        return write_due_reminders(actor=self.system)

    def inbox(self, role: str) -> list[str]:
        """The open reminders of somebody in the product, by step, oldest first."""
        rows = Reminder.objects.filter(
            recipient=self.person(role), channel="product", settled_at=None, acknowledged_at=None
        )
        return list(rows.order_by("id").values_list("rung", flat=True))


def make_office(left: int = 10, ladder: dict[str, Any] | None = None, **requirement: Any) -> Office:
    """The item falls due so many days after DAY, on a ladder of 30, 14, 7, 1 days unless said otherwise."""
    house = make_house()
    row = make_requirement(
        house.operator,
        limits=requirement.pop("limits", {"measure": "days", "every": 100}),
        ladder=ladder if ladder is not None else LADDER,
        **requirement,
    )
    item = apply(row, house.aircraft, day=DAY + timedelta(days=left - 100))
    refresh_due([house.aircraft.pk])
    return Office(house, item)


def after(days: int = 0, hours: int = 0) -> datetime:
    """A moment counted from noon of DAY."""
    return NOON + timedelta(days=days, hours=hours)


def make_endpoint(office: Office, url: str = "https://sink.example/hook") -> WebhookEndpoint:
    return WebhookEndpoint.objects.create(
        operator=office.house.operator,
        url=url,
        secret=KNOWN_SECRET,
        label="Operations room",
        created_at=NOON,
    )


ROLES = (Role.CONTROLLER, Role.DIRECTOR)
