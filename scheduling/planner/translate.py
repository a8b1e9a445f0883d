"""Between plans and the model: a plan becomes a hint, the solver's answer becomes slots."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from scheduling.planner.model import WeekModel, all_starts, stays_of, windows_of
from scheduling.planner.problem import Id, Job, Slot
from scheduling.planner.timeline import first

Value = Callable[[Any], int]


def hint(week: WeekModel, slots: Iterable[Slot]) -> None:
    """Tell the solver a plan to begin from, every variable of it."""
    by_job = {slot.job_id: slot for slot in slots}
    for job in week.jobs:
        _hint_place(week, job, by_job.get(job.id))
        _hint_resources(week, job, by_job.get(job.id))
        _hint_costs(week, job, by_job.get(job.id))
    stays = {window: (bay, start, end) for window, bay, start, end in stays_of(week.facts, by_job.values())}
    for window, visited in week.visited.items():
        bay, start, end = stays.get(window, (None, window.start, window.start))
        week.model.add_hint(visited, int(window in stays))
        for variable, value in zip(week.stay[window], (start, end, end - start), strict=True):
            week.model.add_hint(variable, value)
        for candidate in week.facts.bays[window.base]:
            week.model.add_hint(week.stays_in[window, candidate.id], int(candidate.id == bay))


def slots_from(week: WeekModel, value: Value) -> list[Slot]:
    """The solver's answer as slots; units of pooled kinds are still to be given out."""
    found: list[Slot] = []
    for job in week.jobs:
        if value(week.present[job.id]):
            start = value(week.starts[job.id])
            people = tuple(
                person for person in week.facts.skills if _holds(week.works, (job.id, person), value)
            )
            units = tuple(
                u.id for u in week.facts.problem.equipment if _holds(week.uses, (job.id, u.id), value)
            )
            found.append(Slot(job.id, start, start + job.duration, _bay_of(week, job, value), people, units))
    return found


def _bay_of(week: WeekModel, job: Job, value: Value) -> Id | None:
    for window in windows_of(week, job) if job.needs_bay else ():
        if value(week.in_window[job.id, window]):
            return next(b.id for b in week.facts.bays[window.base] if value(week.stays_in[window, b.id]))
    return None


def _holds(literals: dict[tuple[Id, Id], Any], key: tuple[Id, Id], value: Value) -> bool:
    return key in literals and bool(value(literals[key]))


def _hint_place(week: WeekModel, job: Job, slot: Slot | None) -> None:
    start = slot.start if slot else first(all_starts(week, job)) or 0
    inside = week.facts.window_at(job, slot.start) if slot else None
    week.model.add_hint(week.present[job.id], int(slot is not None))
    week.model.add_hint(week.starts[job.id], start)
    windows = windows_of(week, job)
    for window in windows if len(windows) > 1 else ():
        week.model.add_hint(week.in_window[job.id, window], int(window == inside))


def _hint_resources(week: WeekModel, job: Job, slot: Slot | None) -> None:
    for person in week.facts.skills:
        if (job.id, person) in week.works:
            works = slot is not None and person in slot.people
            week.model.add_hint(week.works[job.id, person], int(works))
    for unit in week.facts.problem.equipment if job.equipment else ():
        if (job.id, unit.id) in week.uses:
            uses = slot is not None and unit.id in slot.equipment
            week.model.add_hint(week.uses[job.id, unit.id], int(uses))


def _hint_costs(week: WeekModel, job: Job, slot: Slot | None) -> None:
    if job.id in week.late:
        late = max(0, slot.end - (job.due_soft or 0)) if slot else 0
        week.model.add_hint(week.late[job.id], late)
    before = week.facts.published.get(job.id)
    if before is not None:
        same = slot is not None and (slot.start, slot.bay) == (before.start, before.bay)
        same = same and slot is not None and set(slot.people) == set(before.people)
        week.model.add_hint(week.moved[job.id], int(slot is not None and not same))
