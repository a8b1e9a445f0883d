"""The due list kept fresh, and the work it demands raised."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.db.models import QuerySet

from fleet.common.actor import Actor, Verb, require, system_actor
from fleet.common.clock import now
from fleet.models import Aircraft, Operator
from fleet.services.trail import note
from scheduling.due.levels import NOTHING_LEFT
from scheduling.due.terms import DueStatus, LimitDue, Measure
from scheduling.due.wording import place_words
from scheduling.gather.due import due_items
from scheduling.gather.reckoned import Reckoned, nearest, reckon
from scheduling.models import OPEN_STATES, Applicability, Before, DueFact, Task, TaskCause
from scheduling.selectors.due import moved_since_reckoned
from scheduling.services.due_facts import every_aircraft, reckon_aircraft, reckon_items
from scheduling.services.due_projected import behind, project_anew
from scheduling.services.measured_use import measure_type, measure_use
from scheduling.services.relief import refresh_reliefs
from scheduling.services.tasks import WantedTask, raise_task

STALE_DAYS = 7
"""Everything is reckoned from its facts again this often, whatever is thought to be in step."""

__all__ = ["RaisedWork", "heal_due", "raise_due_tasks", "reckon_items", "refresh_due", "refresh_moved"]


@transaction.atomic
def refresh_due(aircraft_ids: Iterable[int] | None = None) -> int:
    """Reckon everything on these aircraft (None: on all) and keep it; returns how many items were reckoned.

    Types never measured are measured first, so that there is a projection from the first day.
    """
    ids = every_aircraft() if aircraft_ids is None else list(aircraft_ids)
    types = Aircraft.objects.filter(pk__in=ids, aircraft_type__measured_use=None)
    for type_id in types.order_by().values_list("aircraft_type_id", flat=True).distinct():
        measure_type(type_id, now().date())
    return reckon_aircraft(ids)


def refresh_moved(operator_id: int) -> int:
    """Reckon the aircraft of one operator whose counters moved since: what a file for a whole fleet left behind."""
    moved = moved_since_reckoned(every_aircraft(operator_id))
    return reckon_aircraft(moved) if moved else 0


def heal_due(*, actor: Actor) -> int:
    """Measure use once a day, then reckon what moved, what was never reckoned, and, once a day, what is a week old.

    The turn of a day alone changes nothing that is kept; the days on which counters will probably come to what is
    due follow the rates measured that day. Every step is a transaction of its own: a large fleet never keeps its
    flights waiting for the whole. Components in store are reckoned with the week. Returns how many items changed.
    """
    require(actor, Verb.READ)
    today = now().date()
    fresh = measure_use(today, operator_id=actor.operator_id)
    ids = every_aircraft(actor.operator_id)
    old = now() - timedelta(days=STALE_DAYS)
    stale = DueFact.objects.filter(operator_id=actor.operator_id, computed_at__lt=old)
    aged = set(stale.filter(aircraft__in=behind(actor.operator_id)).values_list("aircraft_id", flat=True))
    count = reckon_aircraft(set(moved_since_reckoned(ids)) | aged | set(fresh))
    loose = Applicability.objects.filter(requirement__operator_id=actor.operator_id, is_active=True)
    never = loose.filter(due_fact=None)
    count += reckon_items(never) + reckon_items(loose.filter(due_fact__in=stale.filter(aircraft=None)))
    return count + project_anew(actor.operator_id)


def heal_due_everywhere() -> int:
    """The beat's job: every operator's due list and relief clocks in step; how many items were reckoned."""
    count = 0
    for operator_id in Operator.objects.values_list("pk", flat=True):
        count += heal_due(actor=system_actor(operator_id, "due list"))
        refresh_reliefs(every_aircraft(operator_id))
    return count


@dataclass(frozen=True, slots=True)
class RaisedWork:
    """What the due list demanded: new tasks, tasks already there, and items that no procedure answers."""

    raised: tuple[Task, ...]
    joined: tuple[Task, ...]
    without_procedure: tuple[str, ...]


@transaction.atomic
def raise_due_tasks(*, actor: Actor) -> RaisedWork:
    """Raise one task for every item that is due soon or worse and has none open yet. Doing it twice changes nothing.

    Items that follow no procedure are named, not raised.
    """
    require(actor, Verb.RAISE_TASK)
    refresh_moved(actor.operator_id)
    known = _words_of_open_work(actor.operator_id)
    raised: list[Task] = []
    joined: list[Task] = []
    without: list[str] = []
    for item in due_items(_not_yet_raised(actor.operator_id)):
        found = reckon(item, with_words=True)
        if found.result.status not in (DueStatus.DUE_SOON, DueStatus.DUE, DueStatus.OVERDUE):
            continue
        if not item.requirement.procedure_code:
            without.append(f"{item.requirement.code} on {item.subject}")
            continue
        wanted = wanted_for(found)
        if wanted.why in known[wanted.aircraft_id, wanted.procedure_code, wanted.scope]:
            continue
        task, was_there = raise_task(actor=actor, wanted=wanted)
        (joined if was_there else raised).append(task)
    return RaisedWork(tuple(raised), tuple(joined), tuple(without))


def _not_yet_raised(operator_id: int) -> QuerySet[Applicability]:
    """What may be due soon or worse somewhere in the world, flies, and is not answered by an open task."""
    tomorrow = now().date().toordinal() + 1
    busy = Task.objects.filter(state__in=OPEN_STATES, applicability__isnull=False).values("applicability")
    facts = DueFact.objects.filter(
        operator_id=operator_id, soon_day__lte=tomorrow, order_day__lt=NOTHING_LEFT, aircraft__isnull=False
    ).exclude(applicability__in=busy)
    return Applicability.objects.filter(pk__in=facts.values("pk"), is_active=True)


def _words_of_open_work(operator_id: int) -> dict[tuple[int, str, str], set[str]]:
    """Why open tasks exist, by aircraft, procedure and scope: an item named there already is not added again."""
    found: dict[tuple[int, str, str], set[str]] = defaultdict(set)
    causes = TaskCause.objects.filter(task__operator_id=operator_id, task__state__in=OPEN_STATES)
    columns = ("task__aircraft_id", "task__procedure__code", "task__scope", "words")
    for aircraft_id, code, scope, words in causes.values_list(*columns):
        found[aircraft_id, code or "", scope].add(words)
    return found


def wanted_for(found: Reckoned) -> WantedTask:
    """The task a due item asks for: its last lawful day and hours, and why in the engine's own words."""
    item = found.item
    assert item.aircraft is not None  # noqa: S101 - only what flies is asked for
    title = f"{item.requirement.title}, {item.subject}" if item.component else item.requirement.title
    return WantedTask(
        aircraft_id=item.aircraft.id,
        procedure_code=item.requirement.procedure_code,
        title=title[:160],
        why=why_of(found),
        before=Before.DUE,
        latest_day=found.result.last_lawful_day,
        latest_minutes=_latest_minutes(found),
        applicability_id=item.id,
        scope=_scope(found),
        consequence=item.requirement.consequence,
    )


def why_of(found: Reckoned) -> str:
    """Why the task is wanted, in words that stay the same until the due point moves: "... falls due at 1 100:00 h"."""
    points = [_falls_due(due) for due in found.result.limits if due.due_at is not None]
    named = f"{found.item.requirement.title} ({found.item.requirement.code})"
    return f"{named} falls due {' or '.join(points)}"[:400]


def _falls_due(due: LimitDue) -> str:
    assert due.due_at is not None  # noqa: S101 - asked only where a due point exists
    words = place_words(due.limit.measure, due.due_at)
    if due.variation is None or due.allowed_to is None:
        return words
    return f"{words} (by the variation granted {place_words(due.limit.measure, due.allowed_to)})"


def _latest_minutes(found: Reckoned) -> int | None:
    due = nearest(found.result.limits, Measure.HOURS)
    if due is None or not isinstance(due.allowed_to, int) or not isinstance(due.now, int):
        return None
    assert found.item.aircraft is not None  # noqa: S101 - as above
    return max(0, found.item.aircraft.now.counters[Measure.HOURS.value] + due.allowed_to - due.now)


def _scope(found: Reckoned) -> str:
    """The position, as trigger rules name it, so that due work and demanded work there are one task."""
    component = found.item.component
    return component.stay.position_code if component and component.stay else ""


def raise_due_tasks_everywhere() -> int:
    """The morning's job: every operator's due work, by the named system actor; returns how many tasks are new."""
    count = 0
    for operator in Operator.objects.all():
        actor = system_actor(operator.pk, "due work")
        heal_due(actor=actor)
        work = raise_due_tasks(actor=actor)
        if work.raised:
            note(actor, "raise_due_tasks", "operator", operator.pk, f"{len(work.raised)} tasks raised")
        count += len(work.raised)
    return count
