"""What a calendar feed shows: due items with their projections, and published work with its times."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet

from fleet.common.actor import Actor, Role
from fleet.common.clock import local_day, now
from fleet.common.errors import NotFound
from fleet.common.keys import digest_of
from fleet.models import Membership
from scheduling.due.terms import Measure
from scheduling.due.wording import point_words
from scheduling.models import CalendarLink, Consequence, DueFact, Slot, WeekPlan
from scheduling.selectors.due_item import kept_outlook, projection_words

DAYS_BACK, DAYS_AHEAD = 92, 400
MOST_ITEMS = 1000
PLANNERS = (Role.CONTROLLER.value, Role.DIRECTOR.value)
COUNTERS = (
    (Measure.HOURS, "due_minutes"),
    (Measure.LANDINGS, "due_landings"),
    (Measure.CYCLES, "due_cycles"),
)


@dataclass(frozen=True, slots=True)
class Thing:
    """One entry of a calendar: on a day, or from one moment to another. `uid` never depends on when it is."""

    uid: str
    summary: str
    description: str
    day: date | None = None
    starts_at: datetime | None = None
    ends_at: datetime | None = None
    place: str = ""


def link_of(key: str) -> CalendarLink:
    """The link behind a secret. One that is revoked, or whose owner has no role any more, is not found."""
    row = (
        CalendarLink.objects.filter(digest=digest_of(key), revoked_at=None, owner__is_active=True)
        .select_related("operator", "base", "aircraft", "owner")
        .first()
    )
    if row is None or not _roles(row):
        raise NotFound("calendar_not_found", "There is no such calendar.")
    return row


def calendar_links(actor: Actor) -> QuerySet[CalendarLink]:
    """The actor's own links, those in force first."""
    rows = CalendarLink.objects.filter(operator_id=actor.operator_id, owner_id=actor.user_id)
    return rows.select_related("base", "aircraft").order_by("revoked_at", "-created_at", "-id")


def things_of(link: CalendarLink) -> list[Thing]:
    """Everything a link shows, by day: of its aircraft, of its base, or of its owner."""
    things = [*_due_things(link), *_slot_things(link)]
    return sorted(things, key=lambda one: (one.day or (one.starts_at or now()).date(), one.uid))


def _roles(link: CalendarLink) -> list[tuple[str, int | None]]:
    rows = Membership.objects.filter(user_id=link.owner_id, operator_id=link.operator_id)
    return list(rows.values_list("role", "base_id"))


def _due_things(link: CalendarLink) -> Iterator[Thing]:
    today = local_day(link.operator.day_zone)
    first, last = today - timedelta(days=DAYS_BACK), today + timedelta(days=DAYS_AHEAD)
    rows = DueFact.objects.filter(_due_scope(link), operator_id=link.operator_id)
    near = Q(projected_day__range=(first.toordinal(), last.toordinal()))
    for fact in rows.filter(near).order_by("projected_day", "pk")[:MOST_ITEMS]:
        yield _due_thing(link, fact)


def _due_scope(link: CalendarLink) -> Q:
    """A person's own calendar shows due items to those who plan, of their base or, without one, of all."""
    if link.aircraft_id is not None:
        return Q(aircraft_id=link.aircraft_id)
    if link.base_id is not None:
        return Q(base_id=link.base_id)
    bases = [base for role, base in _roles(link) if role in PLANNERS]
    if not bases:
        return Q(pk__in=[])
    return Q() if None in bases else Q(base_id__in=bases)


def _due_thing(link: CalendarLink, fact: DueFact) -> Thing:
    outlook = kept_outlook(fact)
    assert outlook.day is not None  # noqa: S101 - asked for with a day only
    where = f"{fact.registration}, {fact.subject}" if fact.subject else fact.registration
    counters = [
        f"At {point_words(measure, getattr(fact, column))}."
        for measure, column in COUNTERS
        if getattr(fact, column) is not None
    ]
    lines = [
        f"Due {projection_words(outlook)}.",
        *counters,
        f"When overdue it stops: {Consequence(fact.consequence).label}.",
        f"Line {fact.code} of the programme.",
    ]
    return Thing(
        uid=f"due-{fact.pk}@{link.operator.code}.verglas",
        summary=f"{where}: {fact.title}",
        description="\n".join(lines),
        day=outlook.day,
    )


def _slot_things(link: CalendarLink) -> Iterator[Thing]:
    rows = Slot.objects.filter(
        plan__operator_id=link.operator_id,
        plan__state=WeekPlan.State.PUBLISHED,
        ends_at__gt=now() - timedelta(days=DAYS_BACK),
    ).exclude(task__state="withdrawn")
    if link.aircraft_id is not None:
        rows = rows.filter(task__aircraft_id=link.aircraft_id)
    elif link.base_id is not None:
        rows = rows.filter(plan__base_id=link.base_id)
    else:
        rows = rows.filter(people=link.owner_id)
    rows = rows.select_related("task__aircraft", "bay", "plan__base").prefetch_related("people", "equipment")
    for slot in rows.order_by("starts_at", "id")[:MOST_ITEMS]:
        yield _slot_thing(link, slot)


def _slot_thing(link: CalendarLink, slot: Slot) -> Thing:
    names = ", ".join(sorted(person.full_name for person in slot.people.all()))
    units = ", ".join(sorted(str(unit) for unit in slot.equipment.all()))
    lines = [f"With {names}." if names else "", f"Equipment: {units}." if units else ""]
    return Thing(
        uid=f"slot-{slot.task_id}@{link.operator.code}.verglas",
        summary=f"{slot.task.aircraft.registration}: {slot.task.title}",
        description="\n".join(line for line in lines if line),
        starts_at=slot.starts_at,
        ends_at=slot.ends_at,
        place=f"{slot.bay}, {slot.plan.base}" if slot.bay else str(slot.plan.base),
    )
