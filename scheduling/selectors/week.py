"""The week board: bays by days, what stands where, who is there, and what found no place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Prefetch, QuerySet

from fleet.common.actor import Actor, Verb
from fleet.common.clock import local_day
from fleet.common.errors import Invalid, NotFound, Reason
from fleet.models import Base, User
from fleet.selectors.people import bases
from scheduling.gather.week_clock import WeekClock
from scheduling.models import Bay, GroundTime, Shift, Slot, TaskWait, WeekPlan

DAYS = 7
IN_HAND = (WeekPlan.State.ASKED, WeekPlan.State.SOLVING, WeekPlan.State.DRAFT)
WORKING = (WeekPlan.State.ASKED, WeekPlan.State.SOLVING)
NO_BAY = "In the open"


@dataclass(frozen=True, slots=True)
class Card:
    """One slot as the board shows it, on the day it begins at the base."""

    slot: Slot
    day: date
    bay: str
    people: tuple[User, ...]
    equipment: tuple[str, ...]
    waits_for: tuple[str, ...]
    change: str = ""

    @property
    def names(self) -> str:
        """Who works on it: "Ada Berg, Nils Dahl"."""
        return ", ".join(person.full_name for person in self.people)


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One bay with its cards, day by day."""

    bay: str
    days: tuple[tuple[Card, ...], ...]


@dataclass(frozen=True, slots=True)
class WeekBoard:
    """One week at one base, as one reader may see it."""

    base: Base
    monday: date
    days: tuple[date, ...]
    plan: WeekPlan | None
    published: WeekPlan | None
    in_hand: WeekPlan | None
    rows: tuple[BoardRow, ...]
    on_ground: tuple[tuple[str, ...], ...]
    on_shift: tuple[tuple[str, ...], ...]
    left_out: tuple[str, ...]

    @property
    def is_worked_out(self) -> bool:
        """Whether a plan for this week is just being made."""
        return self.in_hand is not None and self.in_hand.state in WORKING

    @property
    def cards(self) -> tuple[Card, ...]:
        """Every card, by bay and day."""
        return tuple(card for row in self.rows for cards in row.days for card in cards)

    @property
    def by_day(self) -> list[tuple[date, list[Card]]]:
        """The same by day and time, for a phone."""
        found: dict[date, list[Card]] = defaultdict(list)
        for card in self.cards:
            found[card.day].append(card)
        return [(day, sorted(found[day], key=_by_time)) for day in self.days]

    @property
    def unplaced(self) -> list[Mapping[str, Any]]:
        """What found no place, with reasons in words."""
        return list(self.plan.outcome.get("unplaced", [])) if self.plan else []

    @property
    def problems(self) -> list[str]:
        """Why the week could not be worked out."""
        return list(self.plan.outcome.get("problems", [])) if self.plan else []

    @property
    def changes(self) -> dict[str, int]:
        """How many slots are new or moved against what is published, and how many are left out."""
        kinds = [card.change for card in self.cards]
        return {"new": kinds.count("new"), "moved": kinds.count("moved"), "left_out": len(self.left_out)}


def _by_time(card: Card) -> tuple[Any, int]:
    return (card.slot.starts_at, card.slot.pk)


def monday_of(base: Base, written: str = "") -> date:
    """The Monday of the week that holds a day as written, or of the present week at the base."""
    try:
        day = date.fromisoformat(written) if written else local_day(base.zone)
    except ValueError as error:
        reason = Reason("is no date", "monday", written[:20], "write it as 2026-03-09")
        raise Invalid("bad_week", reason.sentence(), reason) from error
    return day - timedelta(days=day.weekday())


def base_asked_for(actor: Actor, code: str = "") -> Base:
    """The base of that code, else the actor's own, else the first. A stranger's is not found."""
    rows = bases(actor)
    own = rows.filter(pk=actor.base_id) if actor.base_id else rows
    found = (rows.filter(code=code) if code else own).first() or (None if code else rows.first())
    if found is None:
        raise NotFound("base_not_found", "There is no such base here.")
    return found


def week_board(actor: Actor, base: Base, monday: date, *, show_published: bool = False) -> WeekBoard:
    """The board of a week: the plan in hand for who plans, the published one for everybody else.

    While a week is worked out anew, who plans sees what is in force.
    """
    plans = list(_plans(actor).filter(base=base, monday=monday))
    published = next((one for one in plans if one.state == WeekPlan.State.PUBLISHED), None)
    in_hand = next((one for one in plans if one.state in IN_HAND), None)
    if in_hand is None:
        in_hand = _failed_last(plans)
    if not actor.may(Verb.PLAN):
        in_hand = None
    is_worked_out = in_hand is not None and in_hand.state in WORKING
    plan = published if show_published or in_hand is None or (is_worked_out and published) else in_hand
    clock = WeekClock(monday, base.zone)
    days = tuple(monday + timedelta(days=number) for number in range(DAYS))
    before = _places(published) if plan is not None and plan is not published else {}
    cards = _cards(plan, base, before) if plan else []
    bays = Bay.objects.filter(base=base).order_by("name")
    names = [bay.name for bay in bays if bay.closed_on is None or bay.closed_on > monday]
    placed = {card.slot.task_id for card in cards}
    return WeekBoard(
        base=base,
        monday=monday,
        days=days,
        plan=plan,
        published=published,
        in_hand=in_hand,
        rows=_rows(names, days, cards),
        on_ground=_on_ground(base, clock, days),
        on_shift=_on_shift(base, clock, days),
        left_out=tuple(title for task, (_, title) in before.items() if task not in placed),
    )


def _failed_last(plans: Iterable[WeekPlan]) -> WeekPlan | None:
    """A failed attempt counts as long as nothing newer was published."""
    last = next(iter(plans), None)
    return last if last is not None and last.state == WeekPlan.State.FAILED else None


def _plans(actor: Actor) -> QuerySet[WeekPlan]:
    rows = WeekPlan.objects.filter(operator_id=actor.operator_id)
    return rows.select_related("base", "published_by", "asked_by").order_by("-id")


def plan_for(actor: Actor, plan_id: int) -> WeekPlan:
    """One plan; a stranger's, and a draft for who does not plan, are not found."""
    plan = _plans(actor).filter(pk=plan_id).first()
    seen = (WeekPlan.State.PUBLISHED, WeekPlan.State.REPLACED)
    if plan is None or not (actor.may(Verb.PLAN) or plan.state in seen):
        raise NotFound("plan_not_found", "There is no such week plan here.")
    return plan


def plan_list(actor: Actor, *, base: str = "", monday: date | None = None) -> QuerySet[WeekPlan]:
    """The operator's plans, newest first: all of them for who plans, what is or was published for others."""
    rows = _plans(actor)
    if not actor.may(Verb.PLAN):
        rows = rows.filter(state__in=[WeekPlan.State.PUBLISHED, WeekPlan.State.REPLACED])
    if base:
        rows = rows.filter(base__code=base)
    return rows.filter(monday=monday) if monday else rows


def slots_of(plan: WeekPlan) -> QuerySet[Slot]:
    """The slots of a plan with all that is shown of them: a constant number of queries."""
    waits = TaskWait.objects.select_related("first").order_by("id")
    return (
        plan.slots.select_related("task__aircraft", "bay")
        .prefetch_related("people", "equipment", Prefetch("task__waits", queryset=waits, to_attr="all_waits"))
        .order_by("starts_at", "id")
    )


def _cards(plan: WeekPlan, base: Base, before: Mapping[int, tuple[Any, str]]) -> list[Card]:
    found = []
    for slot in slots_of(plan):
        found.append(
            Card(
                slot=slot,
                day=local_day(base.zone, slot.starts_at),
                bay=slot.bay.name if slot.bay else NO_BAY,
                people=tuple(sorted(slot.people.all(), key=lambda one: one.full_name)),
                equipment=tuple(sorted(str(unit) for unit in slot.equipment.all())),
                waits_for=tuple(wait.first.title for wait in getattr(slot.task, "all_waits", [])),
                change=_change(slot, before),
            )
        )
    return found


def _places(published: WeekPlan | None) -> dict[int, tuple[Any, str]]:
    """Where each task stands in what is published."""
    if published is None:
        return {}
    rows = published.slots.select_related("task__aircraft").exclude(
        task__state__in=["in_work", "awaiting_signature", "closed", "withdrawn"]
    )
    return {
        slot.task_id: ((slot.starts_at, slot.bay_id), f"{slot.task.title} on {slot.task.aircraft}")
        for slot in rows
    }


def _change(slot: Slot, before: Mapping[int, tuple[Any, str]]) -> str:
    if not before:
        return ""
    if slot.task_id not in before:
        return "new"
    return "" if before[slot.task_id][0] == (slot.starts_at, slot.bay_id) else "moved"


def _rows(names: list[str], days: tuple[date, ...], cards: list[Card]) -> tuple[BoardRow, ...]:
    places: dict[tuple[str, date], list[Card]] = defaultdict(list)
    for card in cards:
        places[card.bay, card.day].append(card)
    others = sorted({card.bay for card in cards} - set(names))
    return tuple(
        BoardRow(name, tuple(tuple(sorted(places[name, day], key=_by_time)) for day in days))
        for name in [*names, *others]
    )


def _on_ground(base: Base, clock: WeekClock, days: tuple[date, ...]) -> tuple[tuple[str, ...], ...]:
    rows = GroundTime.objects.filter(base=base, starts_at__lt=clock.ends_at, ends_at__gt=clock.starts_at)
    spans = [
        (row.aircraft.registration, row.starts_at, row.ends_at) for row in rows.select_related("aircraft")
    ]
    return _by_days(clock, days, spans)


def _on_shift(base: Base, clock: WeekClock, days: tuple[date, ...]) -> tuple[tuple[str, ...], ...]:
    rows = Shift.objects.filter(base=base, starts_at__lt=clock.ends_at, ends_at__gt=clock.starts_at)
    spans = [(row.person.full_name, row.starts_at, row.ends_at) for row in rows.select_related("person")]
    return _by_days(clock, days, spans)


def _by_days(
    clock: WeekClock, days: tuple[date, ...], spans: list[tuple[str, Any, Any]]
) -> tuple[tuple[str, ...], ...]:
    found = []
    for number in range(len(days)):
        begins, ends = clock.moment(number * 96), clock.moment((number + 1) * 96)
        found.append(tuple(sorted({name for name, start, end in spans if start < ends and begins < end})))
    return tuple(found)


def my_week(actor: Actor, monday: date) -> list[tuple[date, list[Card]]]:
    """The actor's own published work of a week at every base, day by day."""
    own = Slot.objects.filter(
        plan__operator_id=actor.operator_id,
        plan__state=WeekPlan.State.PUBLISHED,
        plan__monday=monday,
        people=actor.user_id,
    )
    found: dict[date, list[Card]] = defaultdict(list)
    plans = WeekPlan.objects.filter(slots__in=own).select_related("base").distinct()
    for plan in plans:
        for card in _cards(plan, plan.base, {}):
            if any(person.pk == actor.user_id for person in card.people):
                found[card.day].append(card)
    days = [monday + timedelta(days=number) for number in range(DAYS)]
    return [(day, sorted(found[day], key=_by_time)) for day in days]


def bays_of(actor: Actor, base: Base | None = None) -> QuerySet[Bay]:
    """Bays by base and name."""
    rows = Bay.objects.filter(base__operator_id=actor.operator_id).select_related("base")
    return (rows.filter(base=base) if base else rows).order_by("base__name", "name")


def shifts_of(actor: Actor, base: Base | None = None) -> QuerySet[Shift]:
    """Shifts by their begin."""
    rows = Shift.objects.filter(base__operator_id=actor.operator_id).select_related("base", "person")
    return (rows.filter(base=base) if base else rows).order_by("starts_at", "id")


def ground_times_of(actor: Actor, base: Base | None = None) -> QuerySet[GroundTime]:
    """Ground times by their begin."""
    rows = GroundTime.objects.filter(base__operator_id=actor.operator_id).select_related("base", "aircraft")
    return (rows.filter(base=base) if base else rows).order_by("starts_at", "id")
