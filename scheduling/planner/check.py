"""Checking any plan, solved or moved by hand, against the facts of the week, without any solver.

Pure. Written apart from the solver on purpose: it shares the facts with it and nothing else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from scheduling.planner.problem import (
    Bay,
    Equipment,
    Id,
    Job,
    Person,
    Problem,
    Slot,
    Window,
    length_words,
    moment_words,
)


class Rule(StrEnum):
    """What a plan can break."""

    KNOWN_JOB = "known_job"
    PLACED_ONCE = "placed_once"
    DURATION = "duration"
    GROUND_TIME = "ground_time"
    EARLIEST = "earliest"
    HARD_DUE = "hard_due"
    BAY = "bay"
    BAY_SHARED = "bay_shared"
    ONE_BAY_PER_VISIT = "one_bay_per_visit"
    PEOPLE_COUNT = "people_count"
    SKILL = "skill"
    SHIFT = "shift"
    PERSON_TWICE = "person_twice"
    EQUIPMENT_COUNT = "equipment_count"
    EQUIPMENT_AWAY = "equipment_away"
    EQUIPMENT_TWICE = "equipment_twice"
    ORDER = "order"
    INDEPENDENCE = "independence"
    ALONE = "alone"
    PIN = "pin"


@dataclass(frozen=True, slots=True)
class Violation:
    """One broken rule, in words, with the jobs it concerns."""

    rule: Rule
    jobs: tuple[Id, ...]
    words: str


@dataclass(frozen=True, slots=True)
class _Placed:
    """A slot with its job and the ground time that holds it."""

    slot: Slot
    job: Job
    window: Window | None


def check(problem: Problem, slots: Sequence[Slot]) -> tuple[Violation, ...]:
    """Everything wrong with a plan; an empty answer means it can be worked as it stands.

    Example: one person on two jobs at once gives one violation, "Ada Berg is on Panel purge and Filter change
    at once, Mon 08:00.".
    """
    jobs = {job.id: job for job in problem.jobs}
    strangers = [
        Violation(Rule.KNOWN_JOB, (slot.job_id,), f"{slot.job_id} is no job of this week.")
        for slot in slots
        if slot.job_id not in jobs
    ]
    placed = [_placed(problem, jobs[slot.job_id], slot) for slot in slots if slot.job_id in jobs]
    by_job = {one.job.id: one for one in placed}
    found = [*strangers, *_once(placed)]
    for one in placed:
        found += [*_times(one), *_bay(problem, one), *_people(problem, one), *_units(problem, one)]
        found += [*_order(one, by_job), *_independence(problem, one, by_job)]
    found += [*_shared_bays(problem, placed), *_alone(placed), *_pins(problem, by_job)]
    found += [*_persons_twice(problem, placed), *_units_twice(problem, placed)]
    return tuple(found)


def cost_of(problem: Problem, slots: Iterable[Slot]) -> int:
    """What a plan costs: jobs left out, lateness by slot, hangar visits, published jobs moved.

    Example: one job placed 3 slots after its soft due at 2 a slot, in one visit at 40, costs 46.
    """
    by_job = {slot.job_id: slot for slot in slots}
    published = {slot.job_id: slot for slot in problem.published}
    visits: set[Window] = set()
    total = 0
    for job in problem.jobs:
        slot = by_job.get(job.id)
        if slot is None:
            total += job.drop_cost
            continue
        if job.due_soft is not None:
            total += job.late_cost * max(0, slot.end - job.due_soft)
        before = published.get(job.id)
        if before is not None and not _stands(before, slot):
            total += problem.costs.move
        window = _window(problem, job, slot)
        if job.needs_bay and window is not None:
            visits.add(window)
    return total + problem.costs.visit * len(visits)


def _stands(before: Slot, after: Slot) -> bool:
    return (before.start, before.bay, set(before.people)) == (after.start, after.bay, set(after.people))


def _window(problem: Problem, job: Job, slot: Slot) -> Window | None:
    tow_in, tow_out = (problem.tow_in, problem.tow_out) if job.needs_bay else (0, 0)
    for window in problem.windows:
        fits = window.start + tow_in <= slot.start and slot.end + tow_out <= window.end
        if fits and window.aircraft == job.aircraft:
            return window
    return None


def _placed(problem: Problem, job: Job, slot: Slot) -> _Placed:
    return _Placed(slot, job, _window(problem, job, slot))


def _once(placed: Sequence[_Placed]) -> Iterator[Violation]:
    for identity, times in Counter(one.job.id for one in placed).items():
        if times > 1:
            yield Violation(Rule.PLACED_ONCE, (identity,), f"{identity} is placed {times} times.")


def _times(one: _Placed) -> Iterator[Violation]:
    job, slot = one.job, one.slot
    if slot.end - slot.start != job.duration:
        words = f"{job.title} takes {length_words(job.duration)}, not {length_words(slot.end - slot.start)}."
        yield Violation(Rule.DURATION, (job.id,), words)
    if one.window is None:
        words = f"{job.title}: {job.aircraft} is not on the ground from {_from_to(slot)}, towing included."
        yield Violation(Rule.GROUND_TIME, (job.id,), words)
    if slot.start < job.earliest:
        words = f"{job.title} may not start before {moment_words(job.earliest)}."
        yield Violation(Rule.EARLIEST, (job.id,), words)
    if job.due_hard is not None and slot.end > job.due_hard:
        words = f"{job.title} must end by {moment_words(job.due_hard)} and ends {moment_words(slot.end)}."
        yield Violation(Rule.HARD_DUE, (job.id,), words)


def _bay(problem: Problem, one: _Placed) -> Iterator[Violation]:
    job, slot = one.job, one.slot
    if slot.bay is None:
        if job.needs_bay:
            yield Violation(Rule.BAY, (job.id,), f"{job.title} needs a bay and has none.")
        return
    bay: Bay | None = next((bay for bay in problem.bays if bay.id == slot.bay), None)
    if not job.needs_bay:
        yield Violation(Rule.BAY, (job.id,), f"{job.title} is done in the open and names a bay.")
    elif bay is None:
        yield Violation(Rule.BAY, (job.id,), f"{job.title} names bay {slot.bay}, which is not known.")
    elif one.window is not None and bay.base != one.window.base:
        words = f"{job.title}: {bay.name} is at {bay.base}, {job.aircraft} stands at {one.window.base}."
        yield Violation(Rule.BAY, (job.id,), words)


def _people(problem: Problem, one: _Placed) -> Iterator[Violation]:
    job, slot = one.job, one.slot
    team = [person for person in problem.people if person.id in slot.people]
    if len(set(slot.people)) != job.people or len(slot.people) != job.people or len(team) != job.people:
        words = f"{job.title} needs {job.people} people and has {len(team)}."
        yield Violation(Rule.PEOPLE_COUNT, (job.id,), words)
    if job.people and not any(job.skills <= person.skills for person in team):
        words = f"{job.title}: nobody on it is authorised for {', '.join(sorted(job.skills)) or 'it'}."
        yield Violation(Rule.SKILL, (job.id,), words)
    for person in team:
        if one.window is not None and not _on_shift(person, slot, one.window.base):
            words = f"{job.title}: {person.name} is not on shift at {one.window.base} from {_from_to(slot)}."
            yield Violation(Rule.SHIFT, (job.id,), words)


def _on_shift(person: Person, slot: Slot, base: str) -> bool:
    shifts = [shift for shift in person.shifts if shift.base == base]
    return all(any(s.start <= moment < s.end for s in shifts) for moment in range(slot.start, slot.end))


def _units(problem: Problem, one: _Placed) -> Iterator[Violation]:
    job, slot = one.job, one.slot
    units = [unit for unit in problem.equipment if unit.id in slot.equipment]
    have, want = Counter(unit.kind for unit in units), Counter(dict(job.equipment))
    if have != want or len(slot.equipment) != len(units):
        words = f"{job.title} needs {_kinds(want)} and has {_kinds(have)}."
        yield Violation(Rule.EQUIPMENT_COUNT, (job.id,), words)
    for unit in units:
        away = one.window is not None and unit.base != one.window.base
        if away or not _is_available(unit, slot):
            words = f"{job.title}: {unit.name} is not to be had from {_from_to(slot)}."
            yield Violation(Rule.EQUIPMENT_AWAY, (job.id,), words)


def _is_available(unit: Equipment, slot: Slot) -> bool:
    if unit.available is None:
        return True
    spans = unit.available
    return all(any(s.start <= moment < s.end for s in spans) for moment in range(slot.start, slot.end))


def _order(one: _Placed, by_job: dict[Id, _Placed]) -> Iterator[Violation]:
    for identity in one.job.after:
        first = by_job.get(identity)
        if first is None:
            words = f"{one.job.title} is placed, but {identity}, which must come first, is not."
            yield Violation(Rule.ORDER, (identity, one.job.id), words)
        elif first.slot.end > one.slot.start:
            words = f"{one.job.title} starts {moment_words(one.slot.start)}, before {first.job.title} ends."
            yield Violation(Rule.ORDER, (identity, one.job.id), words)


def _independence(problem: Problem, one: _Placed, by_job: dict[Id, _Placed]) -> Iterator[Violation]:
    names = {person.id: person.name for person in problem.people}
    for identity in one.job.other_person_than:
        other = by_job.get(identity)
        if other is None:
            continue
        for person in sorted(set(one.slot.people) & set(other.slot.people), key=str):
            words = f"{names.get(person, person)} may not do {one.job.title} after doing {other.job.title}."
            yield Violation(Rule.INDEPENDENCE, (identity, one.job.id), words)


def _shared_bays(problem: Problem, placed: Sequence[_Placed]) -> Iterator[Violation]:
    visits: dict[tuple[Window, Id], list[_Placed]] = {}
    for one in placed:
        if one.window is not None and one.slot.bay is not None:
            visits.setdefault((one.window, one.slot.bay), []).append(one)
    stays = [
        (
            bay,
            window,
            min(o.slot.start for o in ones) - problem.tow_in,
            max(o.slot.end for o in ones) + problem.tow_out,
        )
        for (window, bay), ones in visits.items()
    ]
    for place, (bay, window, start, end) in enumerate(stays):
        jobs = tuple(one.job.id for one in visits[window, bay])
        for closed in next((b.closed for b in problem.bays if b.id == bay), ()):
            if start < closed.end and closed.start < end:
                yield Violation(Rule.BAY, jobs, f"Bay {bay} is closed from {moment_words(closed.start)}.")
        for other_bay, other, other_start, other_end in stays[place + 1 :]:
            if other == window:
                words = f"{window.aircraft} stands in bays {bay} and {other_bay} in one visit."
                yield Violation(Rule.ONE_BAY_PER_VISIT, jobs, words)
            elif other_bay == bay and start < other_end and other_start < end:
                words = f"{window.aircraft} and {other.aircraft} stand in bay {bay} at once, towing included."
                yield Violation(Rule.BAY_SHARED, jobs, words)


def _alone(placed: Sequence[_Placed]) -> Iterator[Violation]:
    for one, other in _overlapping(placed, lambda one: (one.job.aircraft,)):
        if one.job.alone or other.job.alone:
            words = f"{one.job.title} and {other.job.title} on {one.job.aircraft} may not be done at once."
            yield Violation(Rule.ALONE, (one.job.id, other.job.id), words)


def _persons_twice(problem: Problem, placed: Sequence[_Placed]) -> Iterator[Violation]:
    names = {person.id: person.name for person in problem.people}
    for one, other in _overlapping(placed, lambda one: one.slot.people):
        for person in sorted(set(one.slot.people) & set(other.slot.people), key=str):
            at = moment_words(max(one.slot.start, other.slot.start))
            words = f"{names.get(person, person)} is on {one.job.title} and {other.job.title} at once, {at}."
            yield Violation(Rule.PERSON_TWICE, (one.job.id, other.job.id), words)


def _units_twice(problem: Problem, placed: Sequence[_Placed]) -> Iterator[Violation]:
    names = {unit.id: unit.name for unit in problem.equipment}
    for one, other in _overlapping(placed, lambda one: one.slot.equipment):
        for unit in sorted(set(one.slot.equipment) & set(other.slot.equipment), key=str):
            words = f"{names.get(unit, unit)} is used for {one.job.title} and {other.job.title} at once."
            yield Violation(Rule.EQUIPMENT_TWICE, (one.job.id, other.job.id), words)


def _overlapping(
    placed: Sequence[_Placed], keys: Callable[[_Placed], Iterable[Id]]
) -> Iterator[tuple[_Placed, _Placed]]:
    """Pairs that share a key and overlap in time, each pair once."""
    groups: dict[Id, list[_Placed]] = {}
    for one in placed:
        for key in keys(one):
            groups.setdefault(key, []).append(one)
    seen: set[tuple[int, int]] = set()
    for group in groups.values():
        group.sort(key=lambda one: one.slot.start)
        for place, one in enumerate(group):
            for other in group[place + 1 :]:
                if other.slot.start >= one.slot.end:
                    break
                pair = (id(one), id(other))
                if pair not in seen:
                    seen.add(pair)
                    yield one, other


def _pins(problem: Problem, by_job: dict[Id, _Placed]) -> Iterator[Violation]:
    for pin in problem.pinned:
        one = by_job.get(pin.job_id)
        if one is None or not _stands(pin, one.slot):
            words = f"{pin.job_id} is pinned to {moment_words(pin.start)} and was moved or left out."
            yield Violation(Rule.PIN, (pin.job_id,), words)


def _from_to(slot: Slot) -> str:
    return f"{moment_words(slot.start)} to {moment_words(slot.end)}"


def _kinds(counts: Counter[str]) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in sorted(counts.items()) if count) or "none"
