"""The due list: filtered, sorted and paged by key over one table, so that any page costs the same."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db.models import BooleanField, Count, Q, QuerySet
from django.db.models.expressions import RawSQL

from fleet.common.actor import Actor
from fleet.common.clock import local_day
from fleet.models import Aircraft, AircraftType, Base
from fleet.selectors.people import operator_of
from scheduling.due.levels import NOTHING_LEFT, state_on
from scheduling.due.terms import DueStatus
from scheduling.models import DueFact, Requirement
from scheduling.selectors.due_query import SORTS, DueQuery, wrong_query

Todays = tuple[tuple[date, frozenset[int]], ...]


def todays(actor: Actor) -> Todays:
    """The present day of every base, bases of the same day together; usually one, at times two."""
    found: dict[date, set[int]] = {}
    for pk, zone in Base.objects.filter(operator_id=actor.operator_id).values_list("pk", "zone"):
        found.setdefault(local_day(zone), set()).add(pk)
    found.setdefault(local_day(operator_of(actor).day_zone), set())
    return tuple((day, frozenset(bases)) for day, bases in sorted(found.items()))


def filtered(actor: Actor, query: DueQuery) -> QuerySet[DueFact]:
    """The operator's due facts that fit the query, in no order; nothing to do any more only where asked for."""
    rows = DueFact.objects.filter(operator_id=actor.operator_id)
    if query.base:
        rows = rows.filter(base_id=_id_of(Base, actor, "base", code=query.base))
    if query.aircraft_type:
        rows = rows.filter(
            aircraft_type_id=_id_of(AircraftType, actor, "aircraft_type", code=query.aircraft_type)
        )
    if query.aircraft:
        rows = rows.filter(
            aircraft_id=_id_of(Aircraft, actor, "aircraft", registration__iexact=query.aircraft)
        )
    if query.consequence:
        rows = rows.filter(consequence=query.consequence)
    if query.ata:
        rows = rows.filter(Q(ata=query.ata) | Q(ata__startswith=f"{query.ata}-"))
    if query.q:
        words = Q(title__icontains=query.q) | Q(code__icontains=query.q) | Q(subject__icontains=query.q)
        rows = rows.filter(words | Q(registration__icontains=query.q))
    return _in_state(rows, query, todays(actor))


def _id_of(model: type[Base | AircraftType | Aircraft], actor: Actor, field: str, **wanted: str) -> int:
    found: int | None = (
        model.objects.filter(operator_id=actor.operator_id, **wanted).values_list("pk", flat=True).first()
    )
    if found is None:
        raise wrong_query(field, next(iter(wanted.values())), "is not known here", "choose one from the list")
    return found


def _in_state(rows: QuerySet[DueFact], query: DueQuery, days: Todays) -> QuerySet[DueFact]:
    if query.state == "complete":
        return rows.filter(order_day=NOTHING_LEFT)
    # written as "not", or a list sorted by registration would be read by day and sorted anew for every page
    rows = rows.exclude(order_day=NOTHING_LEFT)
    if query.window is not None:
        rows = rows.filter(order_day__lte=days[-1][0].toordinal() + query.window)
    if not query.state:
        return rows
    if len(days) == 1:
        return rows.filter(state_filter(query.state, days[0][0].toordinal()))
    wanted = Q(pk__in=[])
    for day, bases in days:
        wanted |= Q(base_id__in=bases) & state_filter(query.state, day.toordinal())
    return rows.filter(wanted | (Q(base=None) & state_filter(query.state, days[-1][0].toordinal())))


def state_filter(state: str, today: int) -> Q:
    """The rows that stand so on a day: what has come is bounded by the sorting day too, so that an index helps."""
    soon, unknown = Q(soon_day__lte=today), Q(unknown_day__lte=today)
    reached, overdue = Q(reached_day__lte=today), Q(overdue_day__lte=today)
    wanted = {
        "overdue": overdue & Q(order_day__lte=today),
        "due": reached & _not_yet("overdue_day", today) & Q(order_day__lte=today),
        "unknown": unknown & _not_yet("reached_day", today),
        "due_soon": soon & _not_yet("unknown_day", today),
        "ok": _not_yet("soon_day", today),
        "attention": soon,
    }
    return wanted[state]


def _not_yet(column: str, today: int) -> Q:
    return Q(**{f"{column}__isnull": True}) | Q(**{f"{column}__gt": today})


@dataclass(frozen=True, slots=True)
class Page:
    """One page of due items by their keys, and the cursors to the pages beside it (empty: none)."""

    ids: tuple[int, ...]
    next_cursor: str
    previous_cursor: str


def page_of(rows: QuerySet[DueFact], query: DueQuery) -> Page:
    """The page after (or before) a cursor, read by key: the last page costs what the first does."""
    found = list(one_more(rows, query))
    is_backwards, cursor = bool(query.before), query.before or query.after
    is_more = len(found) > query.limit
    found = found[: query.limit]
    if is_backwards:
        found.reverse()
    has_next, has_previous = (True, is_more) if is_backwards else (is_more, bool(cursor))
    return Page(
        ids=tuple(row[-1] for row in found),
        next_cursor=_cursor(found[-1]) if found and has_next else "",
        previous_cursor=_cursor(found[0]) if found and has_previous else "",
    )


def one_more(rows: QuerySet[DueFact], query: DueQuery) -> QuerySet[DueFact, tuple[Any, ...]]:
    """The keys of a page and of the row after it, in the order they are read."""
    columns = SORTS[query.sort.removeprefix("-")]
    is_down = query.sort.startswith("-") != bool(query.before)
    cursor = query.before or query.after
    if cursor:
        rows = rows.filter(_beyond(_place(cursor, columns), columns, is_down=is_down))
    order = [f"-{name}" if is_down else name for name in columns]
    return rows.order_by(*order).values_list(*columns)[: query.limit + 1]


def _beyond(place: tuple[Any, ...], columns: tuple[str, ...], *, is_down: bool) -> RawSQL:
    """Places as a comparison of rows, which both databases answer from the index.

    Written by hand: for SQLite the models would spell it out as alternatives, and those walk the index from its
    beginning to the page.
    """
    names = ", ".join(f"scheduling_duefact.{name}" for name in columns)
    marks = ", ".join(["%s"] * len(place))
    return RawSQL(f"({names}) {'<' if is_down else '>'} ({marks})", place, BooleanField())  # noqa: S611 - names of ours


def _cursor(row: tuple[Any, ...]) -> str:
    return base64.urlsafe_b64encode(json.dumps(row).encode()).decode().rstrip("=")


def _place(cursor: str, columns: tuple[str, ...]) -> tuple[Any, ...]:
    try:
        text = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4))
        place = tuple(json.loads(text))
    except ValueError as error:
        raise wrong_query("after", cursor, "is no place in this list", "start from its first page") from error
    kinds = tuple(str if name == "registration" else int for name in columns)
    if tuple(map(type, place)) != kinds:
        raise wrong_query("after", cursor, "is no place in this list", "start from its first page")
    return place


def counts(actor: Actor, query: DueQuery) -> dict[str, int]:
    """How many items stand how, all filters but the state applied: one query a calendar day, asked apart from pages."""
    rows = filtered(actor, replace(query, state=""))
    total = dict.fromkeys(("overdue", "due", "unknown", "due_soon", "ok"), 0)
    days = todays(actor)
    for number, (day, bases) in enumerate(days):
        of_day = rows
        if len(days) > 1:
            loose = Q(base=None) if number == len(days) - 1 else Q(pk__in=[])
            of_day = rows.filter(Q(base_id__in=bases) | loose)
        sums = of_day.aggregate(
            **{state: Count("pk", filter=state_filter(state, day.toordinal())) for state in total}
        )
        total = {state: total[state] + sums[state] for state in total}
    return {"all": sum(total.values()), **total}


SHOWN = (
    "registration",
    "subject",
    "code",
    "title",
    "ata",
    "consequence",
    "base__name",
    "due_day",
    "lawful_day",
    "due_minutes",
    "due_landings",
    "due_cycles",
    "projected_day",
    "earliest_day",
    "latest_day",
)
CHUNK = 10_000
JUDGED = ("base_id", "soon_day", "unknown_day", "reached_day", "overdue_day")


def exported(actor: Actor, query: DueQuery) -> Iterator[tuple[DueStatus, tuple[Any, ...]]]:
    """Every row that fits, in the order asked for, one after the other: its state today and the values of SHOWN."""
    days = todays(actor)
    by_base = {base: day.toordinal() for day, bases in days for base in bases}
    latest = days[-1][0].toordinal()
    columns = SORTS[query.sort.removeprefix("-")]
    order = [f"-{name}" if query.sort.startswith("-") else name for name in columns]
    rows = filtered(actor, query).order_by(*order).values_list(*JUDGED, *SHOWN)
    if query.state == "complete":
        yield from ((DueStatus.COMPLETE, row[5:]) for row in rows.iterator(chunk_size=CHUNK))
        return
    for row in rows.iterator(chunk_size=CHUNK):
        yield state_on(by_base.get(row[0], latest), *row[1:5]), row[5:]


def chapters(actor: Actor) -> list[str]:
    """The chapters that occur in the operator's programme, for the filter."""
    rows = Requirement.objects.filter(operator_id=actor.operator_id, is_current=True, retired_on=None)
    return sorted({ata.split("-")[0] for ata in rows.values_list("ata", flat=True).distinct() if ata})
