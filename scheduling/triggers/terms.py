"""The facts of trigger rules: events, rules, what they raise, and what one event demands.

Pure. Times are aware datetimes; event times are given in the zone of the event's base, so their dates are
local days.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum

from fleet.common.wording import day as day_words

Id = int | str


class BeforeKind(StrEnum):
    """Before what a raised task must be done; the strictest stands first."""

    NEXT_FLIGHT = "next_flight"
    NEXT_ICING_FLIGHT = "next_icing_flight"
    WITHIN_HOURS = "within_hours"
    WITHIN_DAYS = "within_days"
    NEXT_TASK = "next_task"


class TaskState(StrEnum):
    """Where a task stands between raised and closed."""

    RAISED = "raised"
    PLANNED = "planned"
    IN_WORK = "in_work"
    AWAITING_SIGNATURE = "awaiting_signature"
    CLOSED = "closed"
    WITHDRAWN = "withdrawn"


BEFORE_WORDS = {
    BeforeKind.NEXT_FLIGHT: "before the next flight",
    BeforeKind.NEXT_ICING_FLIGHT: "before the next flight in known or forecast icing",
    BeforeKind.WITHIN_HOURS: "within {amount} flight hours",
    BeforeKind.WITHIN_DAYS: "within {amount} days",
    BeforeKind.NEXT_TASK: "before the task that follows it",
}


@dataclass(frozen=True, slots=True)
class Before:
    """Before what a task must be done. `amount` is whole flight hours or whole days, None for the others."""

    kind: BeforeKind
    amount: int | None = None

    def words(self) -> str:
        """The limit in words: `Before(BeforeKind.WITHIN_DAYS, 10).words()` is "within 10 days"."""
        return BEFORE_WORDS[self.kind].format(amount=self.amount)

    def last_day(self, event_day: date) -> date | None:
        """Last local day of a limit in days: within 10 days of 1 Mar is 11 Mar; None for other kinds."""
        if self.kind is not BeforeKind.WITHIN_DAYS or self.amount is None:
            return None
        return event_day + timedelta(days=self.amount)

    def strictness(self) -> tuple[int, int]:
        """Sort key, strictest first: before next flight comes ahead of within 5 days, 5 days ahead of 10."""
        return tuple(BeforeKind).index(self.kind), self.amount or 0


@dataclass(frozen=True, slots=True)
class Where:
    """The condition of a rule; an empty part asks nothing. Positions match whole leading parts of a name."""

    positions: tuple[str, ...] = ()
    component_types: frozenset[str] = frozenset()
    options_required: frozenset[str] = frozenset()
    options_absent: frozenset[str] = frozenset()
    aircraft_types: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class RaiseFacts:
    """One task a rule raises; tasks of a higher order wait for those of the next lower order.

    `per_position` raises one task for each position named by events, otherwise one for the whole aircraft.
    """

    order: int
    procedure_code: str
    title: str
    before: Before
    reason: str = ""
    per_position: bool = False


@dataclass(frozen=True, slots=True)
class RuleFacts:
    """One version of a trigger rule."""

    id: Id
    code: str
    version: int
    event_kind: str
    where: Where
    raises: tuple[RaiseFacts, ...]
    enabled: bool = True


@dataclass(frozen=True, slots=True)
class EventFacts:
    """Something that happened to an aircraft. `name` is the event kind in words."""

    id: Id
    kind: str
    at: datetime
    aircraft: str
    aircraft_type: str = ""
    position: str | None = None
    component_type: str | None = None
    options: frozenset[str] = frozenset()
    base: str = ""
    name: str = ""
    data: Mapping[str, object] = field(default_factory=dict)

    def words(self) -> str:
        """The event in words: "panel replaced at wing left outboard on 14 Mar 2026"."""
        place = f" at {plain(self.position)}" if self.position else ""
        return f"{self.name or plain(self.kind)}{place} on {day_words(self.at)}"


@dataclass(frozen=True, slots=True)
class Demand:
    """One task that one rule demands because of one event; `why` names the event, the rule and the match.

    `scope` is the position the task is for, empty for the whole aircraft.
    """

    event_id: Id
    rule_id: Id
    rule_code: str
    rule_version: int
    order: int
    aircraft: str
    procedure_code: str
    title: str
    before: Before
    at: datetime
    why: str
    scope: str = ""


def plain(code: str) -> str:
    """A code as words: `plain("line_opened")` is "line opened"."""
    return code.replace("_", " ").replace("-", " ")


def capital(words: str) -> str:
    """With a capital first letter, the rest as it is: `capital("flow test")` is "Flow test"."""
    return words[:1].upper() + words[1:]
