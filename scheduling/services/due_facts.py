"""Keep the columns of the due list in step with what the engine finds. The only place that writes due facts."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from fleet.common.clock import now
from fleet.models import Aircraft
from scheduling.due.terms import Measure
from scheduling.gather.due import DueItem, due_items, items_on
from scheduling.gather.reckoned import fact_of, reckon
from scheduling.models import AircraftUse, Applicability, DueFact
from scheduling.services.due_tasks import follow, lawful_of_open_work

CHUNK = 50
"""Aircraft reckoned at a time: memory stays small, queries stay few."""
BATCH = 500
"""Items read, or rows written, at a time."""

COLUMNS = [field.name for field in DueFact._meta.fields if not field.primary_key]
TOLD = [
    field.attname for field in DueFact._meta.fields if field.name != "computed_at" and not field.primary_key
]


@transaction.atomic
def reckon_items(rows: QuerySet[Applicability]) -> int:
    """Reckon these items anew and keep what was found; items no longer active leave the list.

    Open tasks that answer them follow. For that, whoever changed the items has locked those tasks before.
    """
    ids = list(rows.order_by().values_list("pk", flat=True))
    return sum(_reckon_some(ids[start : start + BATCH]) for start in range(0, len(ids), BATCH))


def _reckon_some(ids: list[int]) -> int:
    moment = now()
    some = Applicability.objects.filter(pk__in=ids)
    DueFact.objects.filter(applicability__in=ids, applicability__is_active=False).delete()
    items = due_items(some.filter(is_active=True), moment)
    before = lawful_of_open_work(ids)
    keep_facts(items, moment)
    follow(before)
    return len(items)


def keep_facts(items: Iterable[DueItem], moment: datetime) -> None:
    """Write the row of each item, new or in place of the old one."""
    _write([fact_of(reckon(item), moment) for item in items])


def _write(facts: list[DueFact]) -> None:
    DueFact.objects.bulk_create(
        facts,
        update_conflicts=True,
        unique_fields=["applicability"],
        update_fields=COLUMNS,
        batch_size=BATCH,
    )


def reckon_aircraft(aircraft_ids: Iterable[int]) -> int:
    """Reckon everything on these aircraft anew, and remember the counters it was reckoned with.

    Some aircraft at a time, each time a transaction, unless the caller has one.
    """
    ids = sorted(set(aircraft_ids))
    return sum(_reckon(ids[start : start + CHUNK]) for start in range(0, len(ids), CHUNK))


def keep_changed(rows: QuerySet[Applicability]) -> int:
    """Reckon these items anew, but write only those that are no longer what they were; how many."""
    moment = now()
    found = [fact_of(reckon(item), moment) for item in due_items(rows, moment)]
    known = {
        row[0]: row[1:]
        for row in DueFact.objects.filter(pk__in=[fact.pk for fact in found]).values_list("pk", *TOLD)
    }
    fresh = [fact for fact in found if known.get(fact.pk) != tuple(getattr(fact, name) for name in TOLD)]
    _write(fresh)
    return len(fresh)


@transaction.atomic
def _reckon(aircraft_ids: list[int]) -> int:
    _one_at_a_time(aircraft_ids)
    moment = now()
    items = due_items(items_on(aircraft_ids), moment)
    keep_facts(items, moment)
    _remember_counters(aircraft_ids, items)
    DueFact.objects.filter(applicability__is_active=False, aircraft_id__in=aircraft_ids).delete()
    return len(items)


def _one_at_a_time(aircraft_ids: list[int]) -> None:
    """Wait for whoever reckons these aircraft; a flight, too, takes its aircraft's row before it moves the items."""
    rows = AircraftUse.objects.select_for_update().filter(pk__in=aircraft_ids).order_by("pk")
    list(rows.values_list("pk"))


def _remember_counters(aircraft_ids: Iterable[int], items: Iterable[DueItem]) -> None:
    seen = {item.aircraft.id: item.aircraft.now.counters for item in items if item.aircraft}
    rows = [
        AircraftUse(
            aircraft_id=pk,
            reckoned_minutes=counters[Measure.HOURS.value],
            reckoned_landings=counters[Measure.LANDINGS.value],
            reckoned_cycles=counters[Measure.CYCLES.value],
        )
        for pk in aircraft_ids
        if (counters := seen.get(pk)) is not None
    ]
    AircraftUse.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["aircraft"],
        update_fields=["reckoned_minutes", "reckoned_landings", "reckoned_cycles"],
    )


def every_aircraft(operator_id: int | None = None) -> list[int]:
    """The aircraft that are followed, of one operator or of all."""
    rows = Aircraft.objects.filter(withdrawn_on=None)
    if operator_id is not None:
        rows = rows.filter(operator_id=operator_id)
    return list(rows.values_list("pk", flat=True))
