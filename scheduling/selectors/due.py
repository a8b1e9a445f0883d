"""What is due on several aircraft, for the operating status and for whoever needs it now and exactly."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q, QuerySet

from fleet.common.clock import now
from fleet.selectors.meters import counters_now
from scheduling.due.engine import bare_due_of
from scheduling.due.explain import words_of
from scheduling.due.terms import DueStatus
from scheduling.gather.due import DueItem, due_items, items_on
from scheduling.models import AircraftUse, Applicability, DueFact
from scheduling.status import Consequence, OverdueItem


def moved_since_reckoned(aircraft_ids: Iterable[int]) -> list[int]:
    """The aircraft whose counters moved (or whose items were never reckoned) since their due facts were kept."""
    counters = counters_now(aircraft_ids)
    rows = AircraftUse.objects.filter(pk__in=list(counters))
    columns = ("aircraft_id", "reckoned_minutes", "reckoned_landings", "reckoned_cycles")
    reckoned = {
        pk: (minutes, landings, cycles) for pk, minutes, landings, cycles in rows.values_list(*columns)
    }
    return [
        pk
        for pk, shown in counters.items()
        if reckoned.get(pk) != (shown.minutes, shown.landings, shown.cycles)
    ]


def overdue_items(aircraft_ids: Iterable[int]) -> dict[int, list[OverdueItem]]:
    """Every item past its limit and its permitted variation, by aircraft: `{7: [OverdueItem(...)], 8: []}`.

    What the kept facts say is asked of the engine again; aircraft that flew since are judged whole.
    """
    ids = list(dict.fromkeys(aircraft_ids))
    found: dict[int, list[OverdueItem]] = {pk: [] for pk in ids}
    for item in due_items(_perhaps_overdue(ids)):
        overdue = _overdue(item)
        if overdue is not None and item.aircraft is not None and item.aircraft.id in found:
            found[item.aircraft.id].append(overdue)
    return found


def _perhaps_overdue(aircraft_ids: list[int]) -> QuerySet[Applicability]:
    moved = moved_since_reckoned(aircraft_ids)
    kept = [pk for pk in aircraft_ids if pk not in set(moved)]
    tomorrow = now().date().toordinal() + 1
    facts = DueFact.objects.filter(aircraft_id__in=kept, overdue_day__lte=tomorrow)
    wanted = Q(pk__in=facts.values("pk"))
    if moved:
        wanted |= Q(pk__in=items_on(moved).order_by().values("pk"))
    return Applicability.objects.filter(wanted, is_active=True)


def _overdue(item: DueItem) -> OverdueItem | None:
    result = bare_due_of(item.requirement.limits, item.facts)
    if result.status is not DueStatus.OVERDUE:
        return None
    words = words_of(result.limit(result.governing))
    consequence = Consequence(item.requirement.consequence)
    title = f"{item.requirement.title} ({item.subject})" if item.component else item.requirement.title
    return OverdueItem(item.id, title, consequence, words)
