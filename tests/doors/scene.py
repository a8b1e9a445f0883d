"""A whole small operator with at least one of everything an address can name, and its neighbour: `Scene`.

The present is `PRESENT` while they stand. Words with `OURS` in them (and the names in `marks`) belong to the operator:
whoever works for the neighbour must never read one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from fleet.common.actor import Role
from fleet.models import Aircraft, User
from tests.makers import NOON, House, at
from tests.records.makers import Workshop

PRESENT = at(6)
"""Sunday noon, the day before the week that is planned."""
MONDAY = date(2025, 3, 10)
BANDS = [{"measure": "hours", "up_to": "1000:00", "percent": "10", "cap": "10:00"}]
LADDER = {"days": [30, 7], "hours": [], "to": ["controller"], "overdue_to": ["director"]}


def wall(day: int, hour: int) -> datetime:
    """A moment of the planned week at the base, which keeps UTC."""
    return datetime.combine(MONDAY, time(hour), NOON.tzinfo) + timedelta(days=day)


@dataclass
class Scene:
    """Everything by name, the neighbour who may see none of it, and the words that would give it away."""

    shop: Workshop
    neighbour: House
    stranger: User
    things: dict[str, Any] = field(default_factory=dict)
    marks: frozenset[str] = frozenset()
    calendar_key: str = ""

    @property
    def house(self) -> House:
        return self.shop.house

    @property
    def aircraft(self) -> Aircraft:
        return self.shop.aircraft

    def person(self, role: Role | str) -> User:
        return self.house.person(role)

    def key(self, name: str) -> int:
        """The primary key of one of the things."""
        return int(self.things[name].pk)
