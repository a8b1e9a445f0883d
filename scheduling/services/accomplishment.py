"""Work was done: the due items it answers count from here. The only place that moves a last-done."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F

from fleet.common.actor import Actor
from fleet.models import Component
from fleet.selectors.meters import Counters, component_times
from fleet.services.trail import note
from scheduling.due.engine import next_after
from scheduling.due.judged import is_before
from scheduling.due.kept import last_due_to_data
from scheduling.due.terms import Mark, NextResult, Since
from scheduling.gather.due import DueItem, due_items, mark_to_data
from scheduling.gather.subjects import FLIGHT_DAYS, MEASURE_OF, flight_days_until
from scheduling.models import Applicability, Task, Variation
from scheduling.selectors.answered import answered_by
from scheduling.services.due_facts import reckon_items


@dataclass(frozen=True, slots=True)
class Completion:
    """A task was completed at a moment, at these counters, proven by this signed record."""

    task_id: int
    at: datetime
    counters: Counters
    proof: str


@dataclass(frozen=True, slots=True)
class Moved:
    """One due item that now counts from this work, and what became of its limits."""

    applicability_id: int
    title: str
    result: NextResult

    @property
    def words(self) -> str:
        """The new dues in one line."""
        return f"{self.title}: {'; '.join(step.words for step in self.result.limits)}"


@transaction.atomic
def move_last_done(*, actor: Actor, task: Task, completion: Completion) -> list[Moved]:
    """Bring every due item that this work answers to the new last-done; spend the variations it used.

    Answered are the task's own due item and every other of the same procedure on the aircraft, or on the
    components fitted there (only the task's own position or component where it names one). A later last-done
    already known stays.
    """
    ids = list(answered_by(task, completion.at).select_for_update(of=("self",)).values_list("pk", flat=True))
    rows = Applicability.objects.filter(pk__in=ids)
    moved = []
    for item in due_items(rows):
        done = _done(item, completion)
        known = item.facts.marks.get(Since.LAST_DONE)
        if known is not None and is_before(done, known):
            words = f"{item.requirement.title}: record {completion.proof} is older than the last done known"
            note(actor, "keep_last_done", "applicability", item.id, words)
            continue
        moved.append(_move(actor, item, done, completion))
    reckon_items(rows)
    return moved


def _done(item: DueItem, completion: Completion) -> Mark:
    """The moment of the work in the counters of the item's own subject."""
    zone = item.aircraft.zone if item.aircraft else item.component.zone if item.component else "UTC"
    day = completion.at.astimezone(ZoneInfo(zone)).date()
    if item.component is None:
        counters = measured(completion.counters)
        if item.aircraft is not None and item.aircraft.flown_days:
            counters[FLIGHT_DAYS] = flight_days_until(item.aircraft, day)
    else:
        component = Component.objects.get(pk=item.component.id)
        counters = measured(component_times(component, completion.at).since_new)
    rest = {name: value for name, value in item.facts.now.counters.items() if name not in counters}
    return Mark(day, {**rest, **counters}, completion.proof)


def measured(counters: Counters) -> dict[str, int]:
    """Counters by the names limits use: minutes of flight are `hours`."""
    return {MEASURE_OF[kind]: value for kind, value in counters.as_dict().items()}


def _move(actor: Actor, item: DueItem, done: Mark, completion: Completion) -> Moved:
    result = next_after(item.requirement.limits, item.facts, done)
    Applicability.objects.filter(pk=item.id).update(
        done_on=done.day,
        last_done=mark_to_data(done),
        last_due=last_due_to_data(result.facts.last_due),
        proof=completion.proof,
        opening_note="",
        version=F("version") + 1,
    )
    spend_variations([item.id], completion.at)
    moved = Moved(item.id, item.requirement.title, result)
    detail = {"proof": completion.proof, "broken": result.is_violation}
    note(actor, "move_last_done", "applicability", item.id, moved.words, detail)
    return moved


def spend_variations(applicability_ids: Iterable[int], at: datetime) -> None:
    """A variation serves one occasion: with the work done it is used up."""
    Variation.objects.filter(
        applicability_id__in=list(applicability_ids), used_at=None, withdrawn_at=None
    ).update(used_at=at)
