"""The week's board while slots are put on it: who and what is still free, and where a job could start.

Pure. Used by the serial schedule and to explain why a job found no place; never by the checker.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum

from scheduling.planner.problem import Bay, Equipment, Id, Job, Problem, Slot, Window
from scheduling.planner.timeline import at_least, bits, bits_of, run_around, starts


class Need(StrEnum):
    """What a job needs besides ground time; any of them can be left out of a question."""

    PEOPLE = "people"
    SKILL = "skill"
    EQUIPMENT = "equipment"
    BAY = "bay"
    AIRCRAFT = "aircraft"
    ORDER = "order"


@dataclass(slots=True)
class Index:
    """The facts of one week, sorted for quick answers; never changed once made."""

    problem: Problem
    jobs: dict[Id, Job] = field(default_factory=dict)
    windows: dict[Id, list[Window]] = field(default_factory=lambda: defaultdict(list))
    bays: dict[str, list[Bay]] = field(default_factory=lambda: defaultdict(list))
    units: dict[tuple[str, str], list[Equipment]] = field(default_factory=lambda: defaultdict(list))
    shifts: dict[str, dict[Id, int]] = field(default_factory=lambda: defaultdict(dict))
    skills: dict[Id, frozenset[str]] = field(default_factory=dict)
    followers: dict[Id, list[Id]] = field(default_factory=lambda: defaultdict(list))
    strangers: dict[Id, set[Id]] = field(default_factory=lambda: defaultdict(set))
    of_aircraft: dict[Id, list[Job]] = field(default_factory=lambda: defaultdict(list))
    published: dict[Id, Slot] = field(default_factory=dict)
    pinned: dict[Id, Slot] = field(default_factory=dict)

    def window_at(self, job: Job, start: int) -> Window | None:
        """The ground time that holds a job from this start, towing included."""
        before, after = self.towing(job)
        for window in self.windows[job.aircraft]:
            if window.start + before <= start and start + job.duration + after <= window.end:
                return window
        return None

    def towing(self, job: Job) -> tuple[int, int]:
        """Slots of towing before and after a job: none for work in the open."""
        return (self.problem.tow_in, self.problem.tow_out) if job.needs_bay else (0, 0)


def index(problem: Problem) -> Index:
    """Sort the facts of a week for quick answers."""
    found = Index(problem)
    for job in problem.jobs:
        found.jobs[job.id] = job
        found.of_aircraft[job.aircraft].append(job)
        for earlier in job.after:
            found.followers[earlier].append(job.id)
        for other in job.other_person_than:
            found.strangers[job.id].add(other)
            found.strangers[other].add(job.id)
    for window in sorted(problem.windows, key=lambda w: w.start):
        found.windows[window.aircraft].append(window)
    for bay in problem.bays:
        found.bays[bay.base].append(bay)
    for unit in problem.equipment:
        found.units[unit.base, unit.kind].append(unit)
    for person in problem.people:
        found.skills[person.id] = person.skills
        for shift in person.shifts:
            shifts = found.shifts[shift.base]
            shifts[person.id] = shifts.get(person.id, 0) | bits(shift.start, shift.end)
    found.published = {slot.job_id: slot for slot in problem.published}
    found.pinned = {slot.job_id: slot for slot in problem.pinned}
    return found


@dataclass(slots=True)
class Visit:
    """An aircraft's stay in a bay during one ground time, towing included."""

    bay: Id
    start: int
    end: int


class Board:
    """Slots put so far and the free time they leave."""

    def __init__(self, facts: Index) -> None:
        self.facts = facts
        self.slots: dict[Id, Slot] = {}
        self.everything = bits(0, facts.problem.horizon)
        self.person_busy: dict[Id, int] = defaultdict(int)
        self.unit_busy: dict[Id, int] = {unit.id: self._away(unit) for unit in facts.problem.equipment}
        self.bay_busy: dict[Id, int] = {bay.id: bits_of(bay.closed) for bay in facts.problem.bays}
        self.aircraft_busy: dict[Id, int] = defaultdict(int)
        self.aircraft_alone: dict[Id, int] = defaultdict(int)
        self.visits: dict[Window, Visit] = {}

    def _away(self, unit: Equipment) -> int:
        return 0 if unit.available is None else self.everything & ~bits_of(unit.available)

    def possible_starts(self, job: Job, window: Window, without: frozenset[Need] = frozenset()) -> int:
        """Every slot of a ground time where a job could start, asking all needs but those left out."""
        facts = self.facts
        before, after = facts.towing(job)
        found = starts(bits(window.start + before, window.end - after), job.duration)
        found &= ~bits(0, job.earliest)
        if job.due_hard is not None:
            found &= bits(0, job.due_hard - job.duration + 1)
        for need, ask in ASK.items():
            if found and need not in without:
                found &= ask(self, job, window)
        return found

    def order_starts(self, job: Job, _window: Window) -> int:
        """Starts after all that comes first; none while something that comes first has no place."""
        ready, latest = 0, self.facts.problem.horizon
        for identity in job.after:
            if identity not in self.slots:
                return 0
            ready = max(ready, self.slots[identity].end)
        for identity in self.facts.followers[job.id]:
            if identity in self.slots:
                latest = min(latest, self.slots[identity].start)
        return bits(ready, latest - job.duration + 1)

    def aircraft_starts(self, job: Job, _window: Window) -> int:
        """Starts that leave work done alone alone."""
        busy = (self.aircraft_busy if job.alone else self.aircraft_alone)[job.aircraft]
        return starts(self.everything & ~busy, job.duration)

    def bay_starts(self, job: Job, window: Window) -> int:
        """Starts inside the aircraft's stay, made longer if need be, or in any bay if it has none yet."""
        if not job.needs_bay:
            return self.everything
        found = 0
        for bay in self.facts.bays[window.base]:
            found |= self.starts_in_bay(job, window, bay)
        return found

    def starts_in_bay(self, job: Job, window: Window, bay: Bay) -> int:
        """Starts in one bay: a stay is one unbroken time in one bay."""
        before, after = self.facts.towing(job)
        free = self.everything & ~self.bay_busy[bay.id] & bits(window.start, window.end)
        visit = self.visits.get(window)
        if visit is None:
            return starts(free, job.duration + before + after) << before
        if visit.bay != bay.id:
            return 0
        lower, upper = run_around(free, visit.start, visit.end, self.facts.problem.horizon)
        return bits(lower + before, upper - after - job.duration + 1)

    def people_starts(self, job: Job, window: Window) -> int:
        """Starts when enough people are free, whatever they are authorised for."""
        return at_least(
            (self.free_starts(job, p, s) for p, s in self._team(job, window)), job.people, self.everything
        )

    def skill_starts(self, job: Job, window: Window) -> int:
        """Starts when somebody with all the skills is free."""
        if not job.people or not job.skills:
            return self.everything
        skilled = [(p, s) for p, s in self._team(job, window) if job.skills <= self.facts.skills[p]]
        return at_least((self.free_starts(job, p, s) for p, s in skilled), 1, self.everything)

    def equipment_starts(self, job: Job, window: Window) -> int:
        """Starts when enough units of every kind are free."""
        found = self.everything
        for kind, count in job.equipment:
            units = self.facts.units[window.base, kind]
            masks = (starts(self.everything & ~self.unit_busy[unit.id], job.duration) for unit in units)
            found &= at_least(masks, count, self.everything)
        return found

    def free_starts(self, job: Job, person: Id, shift: int) -> int:
        """Starts when one person is on shift and free for the whole job."""
        return starts(shift & ~self.person_busy[person], job.duration)

    def _team(self, job: Job, window: Window) -> Iterator[tuple[Id, int]]:
        """People on shift at the base who have not done what this job must be independent of."""
        barred: set[Id] = set()
        for other in self.facts.strangers[job.id]:
            if other in self.slots:
                barred.update(self.slots[other].people)
        for person, shift in self.facts.shifts[window.base].items():
            if person not in barred:
                yield person, shift

    def place(self, job: Job, window: Window, start: int) -> Slot:
        """Put a job on the board at a possible start, choosing people, units and bay."""
        slot = Slot(
            job_id=job.id,
            start=start,
            end=start + job.duration,
            bay=self._choose_bay(job, window, start) if job.needs_bay else None,
            people=self._choose_people(job, window, start),
            equipment=self._choose_units(job, window, start),
        )
        self.put(slot, window)
        return slot

    def put(self, slot: Slot, window: Window) -> None:
        """Put a slot on the board as it stands, without asking whether it fits."""
        job, taken = self.facts.jobs[slot.job_id], bits(slot.start, slot.end)
        self.slots[slot.job_id] = slot
        self.aircraft_busy[job.aircraft] |= taken
        if job.alone:
            self.aircraft_alone[job.aircraft] |= taken
        for person in slot.people:
            self.person_busy[person] |= taken
        for unit in slot.equipment:
            self.unit_busy[unit] |= taken
        if slot.bay is not None:
            self._stay(slot, window, slot.bay)

    def _stay(self, slot: Slot, window: Window, bay: Id) -> None:
        problem = self.facts.problem
        visit = self.visits.setdefault(
            window, Visit(bay, slot.start - problem.tow_in, slot.end + problem.tow_out)
        )
        visit.start = min(visit.start, slot.start - problem.tow_in)
        visit.end = max(visit.end, slot.end + problem.tow_out)
        self.bay_busy[bay] |= bits(visit.start, visit.end)

    def _choose_bay(self, job: Job, window: Window, start: int) -> Id:
        published = self.facts.published.get(job.id)
        fitting = [
            bay for bay in self.facts.bays[window.base] if self.starts_in_bay(job, window, bay) >> start & 1
        ]
        same = [bay for bay in fitting if published is not None and bay.id == published.bay]
        return (same or fitting)[0].id

    def _choose_people(self, job: Job, window: Window, start: int) -> tuple[Id, ...]:
        """The published people first, then those with fewest skills, so that rare skills stay free."""
        if not job.people:
            return ()
        published = self.facts.published.get(job.id)
        wanted = published.people if published else ()
        free = [p for p, shift in self._team(job, window) if self.free_starts(job, p, shift) >> start & 1]
        skills = self.facts.skills
        free.sort(key=lambda p: (p not in wanted, len(skills[p]), self.person_busy[p].bit_count(), str(p)))
        leader = next(person for person in free if job.skills <= skills[person])
        others = [person for person in free if person != leader]
        return (leader, *others[: job.people - 1])

    def _choose_units(self, job: Job, window: Window, start: int) -> tuple[Id, ...]:
        taken = bits(start, start + job.duration)
        chosen: list[Id] = []
        for kind, count in job.equipment:
            units = [u for u in self.facts.units[window.base, kind] if not self.unit_busy[u.id] & taken]
            # The busiest unit that still fits goes first, so that long gaps in the others stay whole.
            units.sort(key=lambda u: -self.unit_busy[u.id].bit_count())
            chosen += [unit.id for unit in units[:count]]
        return tuple(chosen)


ASK = {
    Need.ORDER: Board.order_starts,
    Need.AIRCRAFT: Board.aircraft_starts,
    Need.BAY: Board.bay_starts,
    Need.EQUIPMENT: Board.equipment_starts,
    Need.SKILL: Board.skill_starts,
    Need.PEOPLE: Board.people_starts,
}


def board_of(facts: Index, slots: Iterable[Slot]) -> Board:
    """A board with these slots on it; slots outside any ground time are left off."""
    board = Board(facts)
    for slot in slots:
        window = facts.window_at(facts.jobs[slot.job_id], slot.start)
        if window is not None:
            board.put(slot, window)
    return board
