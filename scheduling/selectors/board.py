"""The fleet at a glance: every aircraft with its status and reasons, and who owns what stands in its way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from fleet.common.actor import Actor
from fleet.common.clock import local_day
from fleet.models import Aircraft, User
from fleet.selectors.aircraft import aircraft_list
from fleet.selectors.meters import Counters, counters_now
from scheduling.due.explain import STATUS_WORDS
from scheduling.due.levels import NOTHING_LEFT, state_on
from scheduling.due.outlook import Outlook
from scheduling.due.terms import DueStatus
from scheduling.models import OPEN_STATES, DueFact, Relief, Task
from scheduling.selectors.due_item import LEVEL_OF, kept_outlook, projection_words
from scheduling.selectors.status import status_of
from scheduling.status import FlightState, OperatingStatus, Reason, ReasonCode

STATES = tuple(FlightState)


@dataclass(frozen=True, slots=True)
class BoardQuery:
    """How somebody wants to see the fleet; `status` is a FlightState's value."""

    search: str = ""
    base: str = ""
    type: str = ""
    status: str = ""
    sort: str = ""


@dataclass(frozen=True, slots=True)
class NextDue:
    """The most urgent line of the programme: its state today, and its day, never without its interval."""

    title: str
    state: DueStatus
    outlook: Outlook
    order_day: int

    @property
    def is_pressing(self) -> bool:
        """Whether its state says more than its day."""
        return self.state in (DueStatus.OVERDUE, DueStatus.DUE, DueStatus.UNKNOWN)

    @property
    def words(self) -> str:
        """Its day with the interval: "12 Mar 2026 (80 %: 8 Mar 2026 to 20 Mar 2026)"."""
        return projection_words(self.outlook)

    @property
    def level(self) -> str:
        """How the state is marked."""
        return LEVEL_OF[self.state]

    @property
    def state_words(self) -> str:
        """The state in words."""
        return STATUS_WORDS[self.state]


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One aircraft on the board."""

    aircraft: Aircraft
    status: OperatingStatus
    counters: Counters
    next_due: NextDue | None
    open_tasks: int


@dataclass(frozen=True, slots=True)
class Board:
    """Rows in the order asked for; `counts` by state are of the rows before the status was chosen."""

    rows: tuple[BoardRow, ...]
    counts: dict[FlightState, int]
    total: int


@dataclass(frozen=True, slots=True)
class Owed:
    """One thing that stands in the way of an aircraft: what it stops, and who owns it (None: nobody yet)."""

    aircraft: Aircraft
    reason: Reason
    stops: str
    owner: User | None
    ends_at: datetime | None = None


def board(actor: Actor, query: BoardQuery | None = None) -> Board:
    """The fleet with status, hours, next due and open tasks, in a constant number of queries."""
    asked = query or BoardQuery()
    rows = _rows(list(_chosen(actor, asked)))
    counts = {state: sum(row.status.state is state for row in rows) for state in STATES}
    kept = [row for row in rows if not asked.status or row.status.state == asked.status]
    return Board(tuple(_sorted(kept, asked.sort)), counts, len(rows))


def _chosen(actor: Actor, query: BoardQuery) -> QuerySet[Aircraft]:
    left = DueFact.objects.filter(aircraft=OuterRef("pk"), order_day__lt=NOTHING_LEFT)
    facts = left.order_by("order_day", "applicability")
    rows = aircraft_list(actor).annotate(
        open_tasks=Count("tasks", filter=Q(tasks__state__in=OPEN_STATES)),
        next_due_id=Subquery(facts.values("applicability")[:1]),
    )
    if query.base:
        rows = rows.filter(base__code=query.base)
    if query.type:
        rows = rows.filter(aircraft_type__code=query.type)
    words = query.search.strip()
    if words:
        found = Q(registration__icontains=words) | Q(serial_number__icontains=words)
        rows = rows.filter(found | Q(aircraft_type__name__icontains=words) | Q(base__name__icontains=words))
    return rows.order_by("registration")


def _rows(fleet: list[Aircraft]) -> list[BoardRow]:
    ids = [aircraft.pk for aircraft in fleet]
    statuses, counters = status_of(ids), counters_now(ids)
    facts = DueFact.objects.in_bulk([pk for a in fleet if (pk := getattr(a, "next_due_id", None))])
    return [
        BoardRow(
            aircraft=aircraft,
            status=statuses[aircraft.pk],
            counters=counters[aircraft.pk],
            next_due=_next_due(aircraft, facts.get(getattr(aircraft, "next_due_id", None))),
            open_tasks=getattr(aircraft, "open_tasks", 0),
        )
        for aircraft in fleet
    ]


def _next_due(aircraft: Aircraft, fact: DueFact | None) -> NextDue | None:
    if fact is None:
        return None
    today = local_day(aircraft.base.zone).toordinal()
    state = state_on(today, fact.soon_day, fact.unknown_day, fact.reached_day, fact.overdue_day)
    title = f"{fact.title} ({fact.subject})" if fact.subject else fact.title
    return NextDue(title, state, kept_outlook(fact), fact.order_day)


def _sorted(rows: list[BoardRow], sort: str) -> Iterable[BoardRow]:
    """By the column asked for; without one, what is worst stands first."""
    name, backwards = sort.removeprefix("-"), sort.startswith("-")
    keys = {
        "aircraft": lambda row: row.aircraft.registration,
        "base": lambda row: row.aircraft.base.name,
        "hours": lambda row: row.counters.minutes,
        "tasks": lambda row: row.open_tasks,
        "due": lambda row: row.next_due.order_day if row.next_due else NOTHING_LEFT,
        "status": lambda row: -STATES.index(row.status.state),
    }
    return sorted(rows, key=keys.get(name, keys["status"]), reverse=backwards and name in keys)


def owed(actor: Actor, query: BoardQuery | None = None) -> tuple[Owed, ...]:
    """Everything that stops something, worst first, with who owns it, in a constant number of queries."""
    fleet = list(_chosen(actor, query or BoardQuery()))
    statuses = status_of(aircraft.pk for aircraft in fleet)
    found = [
        (aircraft, reason) for aircraft in fleet for reason in statuses[aircraft.pk].reasons if stops(reason)
    ]
    owners = _Owners(found)
    lines = [Owed(a, reason, stops(reason), owners.of(reason), reason.ends_at) for a, reason in found]
    return tuple(sorted(lines, key=lambda line: -STATES.index(line.reason.state)))


def stops(reason: Reason) -> str:
    """What a reason stops, in words; empty where it stops nothing."""
    if reason.state is FlightState.NOT_RELEASABLE:
        return "no flight"
    if reason.state is FlightState.RESTRICTED_ICING:
        return "no flight into known or forecast icing"
    closed = (ReasonCode.OPERATION_CLOSED, ReasonCode.OVERDUE)
    return "a kind of operation" if reason.code in closed else ""


class _Owners:
    """Who owns each reason: of a task whoever it is given to, of a due item whoever has its task."""

    def __init__(self, found: Iterable[tuple[Aircraft, Reason]]) -> None:
        reasons = [reason for _, reason in found]
        tasks = Task.objects.filter(
            Q(pk__in=[r.task_id for r in reasons if r.task_id])
            | Q(applicability__in=[r.due_id for r in reasons if r.due_id], state__in=OPEN_STATES)
        ).select_related("assigned_to")
        self.by_task: dict[object, User | None] = {}
        self.by_due: dict[object, User | None] = {}
        for task in tasks:
            self.by_task[task.pk] = task.assigned_to
            self.by_due[task.applicability_id] = task.assigned_to
        reliefs = Relief.objects.filter(pk__in=[r.relief_id for r in reasons if r.relief_id])
        self.by_relief: dict[object, User | None] = {
            relief.pk: relief.granted_by for relief in reliefs.select_related("granted_by")
        }

    def of(self, reason: Reason) -> User | None:
        """The owner of one reason."""
        if reason.task_id is not None:
            return self.by_task.get(reason.task_id)
        if reason.due_id is not None:
            return self.by_due.get(reason.due_id)
        return self.by_relief.get(reason.relief_id)
