"""Rates measured anew: the days on which counters will probably come to what is due move with them."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.db.models import F, Q

from fleet.common.clock import local_day
from scheduling.due.arrays import Ahead
from scheduling.gather.use import use_facts
from scheduling.models import AircraftUse
from scheduling.services.due_columns import move_items
from scheduling.services.due_facts import CHUNK


def project_anew(operator_id: int) -> int:
    """Follow the rates measured since an operator's items were last projected; how many items changed.

    Some aircraft at a time, each time a transaction: a large fleet never keeps a flight waiting for all of it, and
    what is stopped in between goes on where it stopped.
    """
    ids = behind(operator_id)
    return sum(_project(ids[start : start + CHUNK]) for start in range(0, len(ids), CHUNK))


def behind(operator_id: int) -> list[int]:
    """The aircraft whose items still lean on an older rate: all of them once a day, then none."""
    is_late = Q(projected_on=None) | ~Q(projected_on=F("measured_on"))
    rows = AircraftUse.objects.filter(is_late, aircraft__operator_id=operator_id, measured_on__isnull=False)
    return list(rows.order_by("pk").values_list("pk", flat=True))


@transaction.atomic
def _project(aircraft_ids: Sequence[int]) -> int:
    """Move the items of these aircraft, their counters as they were last reckoned with; others follow when reckoned."""
    rows = AircraftUse.objects.filter(pk__in=aircraft_ids)
    locked = list(rows.select_for_update(of=("self",)).select_related("aircraft__base").order_by("pk"))
    use = use_facts({row.pk: row.aircraft.aircraft_type_id for row in locked})
    ahead: dict[int, Ahead] = {}
    for row in locked:
        minutes, landings, cycles = row.reckoned_minutes, row.reckoned_landings, row.reckoned_cycles
        if minutes is None or landings is None or cycles is None:
            continue
        facts, today = use[row.pk], local_day(row.aircraft.base.zone)
        ahead[row.pk] = Ahead((minutes, landings, cycles), facts.rate, facts.errors, today, facts.plan)
    rows.update(projected_on=F("measured_on"))
    return move_items(ahead) if ahead else 0
