"""The invented operator as written in fixtures, and what of it stands in the database so far."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from fleet.common.actor import Actor, system_actor
from fleet.common.clock import now
from fleet.models import Aircraft, AircraftType, Base, ComponentKind, Equipment, FluidLot, Operator, User
from fleet.selectors.people import actor_for

DAYS_OF_HISTORY = 730


def written(name: str) -> Any:
    """One file of fixtures: `written("demo/fleet.json")["operator"]["code"]` is "skerry"."""
    return json.loads((settings.ROOT / "fixtures" / name).read_text())


@dataclass(frozen=True, slots=True)
class Scenario:
    """Everything loaded so far, by code; `now` is the moment the demonstration is loaded."""

    operator: Operator
    now: datetime = field(default_factory=now)
    bases: dict[str, Base] = field(default_factory=dict)
    people: dict[str, User] = field(default_factory=dict)
    actors: dict[str, Actor] = field(default_factory=dict)
    types: dict[str, AircraftType] = field(default_factory=dict)
    kinds: dict[str, ComponentKind] = field(default_factory=dict)
    aircraft: dict[str, Aircraft] = field(default_factory=dict)
    equipment: dict[tuple[str, str], list[Equipment]] = field(default_factory=dict)
    lots: dict[str, list[FluidLot]] = field(default_factory=dict)
    stories: dict[str, str] = field(default_factory=dict)

    @property
    def today(self) -> date:
        """The day of loading at the operator."""
        return self.now.astimezone(ZoneInfo(self.operator.day_zone)).date()

    @property
    def opened(self) -> datetime:
        """When the operator's books begin."""
        return self.at(DAYS_OF_HISTORY, time(0), self.operator.day_zone)

    @property
    def loader(self) -> Actor:
        """Who the trail names for what the demonstration itself brought in."""
        return system_actor(self.operator.pk, "demonstration")

    def day(self, days_ago: int) -> date:
        """A day counted back from today."""
        return self.today - timedelta(days=days_ago)

    def at(self, days_ago: int, clock: time, zone: str) -> datetime:
        """A moment of a day counted back from today, by the clock on the wall of a zone; told in UTC."""
        return datetime.combine(self.day(days_ago), clock, ZoneInfo(zone)).astimezone(UTC)

    def actor(self, username: str) -> Actor:
        """Somebody of the operator as actor."""
        if username not in self.actors:
            self.actors[username] = actor_for(self.people[username], self.operator.pk)
        return self.actors[username]
