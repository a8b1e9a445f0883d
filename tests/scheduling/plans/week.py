"""A hangar in working order: bays, shifts, ground times, and the replaced panel that is to be planned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from fleet.common.actor import Actor, Role
from fleet.models import Base, User
from scheduling.models import Bay, GroundTime, Shift, Task, WeekPlan
from scheduling.services.plans import ask_for_week, solve_asked
from tests.makers import EquipmentMaker, at
from tests.scheduling.makers import Workshop, make_workshop

MONDAY = date(2025, 3, 10)
SUNDAY_NOON = at(6)
"""The present of these tests: the day before the week begins."""


def wall(day: int, hour: int = 0, minute: int = 0) -> datetime:
    """A moment of the week at a base in UTC: `wall(0, 8)` is Monday 08:00."""
    return datetime(2025, 3, 10, hour, minute, tzinfo=UTC) + timedelta(days=day)


@dataclass(frozen=True, slots=True)
class Hangar:
    """A workshop with two bays, two technicians' shifts of three days, and one aircraft on the ground."""

    workshop: Workshop
    purge: Task
    test: Task

    @property
    def base(self) -> Base:
        return self.workshop.house.base

    @property
    def controller(self) -> Actor:
        return self.workshop.house.actor(Role.CONTROLLER)

    def actor(self, role: str) -> Actor:
        return self.workshop.house.actor(role)

    def person(self, role: str) -> User:
        return self.workshop.house.person(role)

    def planned(self, seconds: float = 2) -> WeekPlan:
        """The week asked for and worked out."""
        plan = ask_for_week(actor=self.controller, base_id=self.base.pk, monday=MONDAY)
        solve_asked(seconds=seconds)
        plan.refresh_from_db()
        return plan


def make_hangar(*, cylinders: int = 1, bays: int = 2, **aircraft: Any) -> Hangar:
    """Monday to Wednesday 08:00 to 16:00 for the technician and the inspector; on the ground Monday to Thursday."""
    workshop = make_workshop(**aircraft)
    base, house = workshop.house.base, workshop.house
    workshop.replace_panel("key-1")
    purge, test = Task.objects.order_by("order")
    for number in range(1, bays + 1):
        Bay.objects.create(base=base, name=f"Bay {number}")
    for role in (Role.TECHNICIAN, Role.INSPECTOR):
        for day in range(3):
            Shift.objects.create(
                base=base, person=house.person(role), starts_at=wall(day, 8), ends_at=wall(day, 16)
            )
    GroundTime.objects.create(
        aircraft=workshop.aircraft, base=base, starts_at=wall(0, 6), ends_at=wall(3, 18)
    )
    for _ in range(cylinders):
        EquipmentMaker(operator=house.operator, base=base)
    return Hangar(workshop, purge, test)
