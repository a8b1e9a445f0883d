"""One week of work as frozen facts: jobs, bays, people, equipment, ground time, and the published plan.

Pure. Times are whole slots of 15 minutes counted from Monday 00:00 at the base (672 to a week); every span is
half open: it holds `start` and does not hold `end`. Precedence and independence stay within one aircraft.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

Id = int | str

MINUTES_PER_SLOT = 15
SLOTS_PER_DAY = 96
SLOTS_PER_WEEK = 672
DAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class Span:
    """From one slot up to another."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Bay:
    """A place for one aircraft at a base; `closed` spans cannot be used."""

    id: Id
    name: str
    base: str
    closed: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Shift:
    """A person works at a base from one slot up to another."""

    base: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works; `skills` are valid authorisations and inspection rights, by name."""

    id: Id
    name: str
    skills: frozenset[str]
    shifts: tuple[Shift, ...]


@dataclass(frozen=True, slots=True)
class Equipment:
    """One unit of a kind at a base; `available` None means the whole week (calibrated, in place)."""

    id: Id
    name: str
    kind: str
    base: str
    available: tuple[Span, ...] | None = None


@dataclass(frozen=True, slots=True)
class Window:
    """An aircraft stands at a base and may be worked on; towing in and out happens inside it."""

    aircraft: Id
    base: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Job:
    """One task to be placed. `duration` is in slots; `equipment` names kinds with how many units of each.

    `people` work on it for its whole length; one of them at least has all `skills`, the others help.
    `alone`: nobody else works on the aircraft meanwhile. `after`: jobs that must end first.
    `other_person_than`: jobs whose people may not do this one (independent inspection).
    `due_hard`: the slot by which it ends or it is not placed; `due_soft`: later costs `late_cost` a slot.
    """

    id: Id
    title: str
    aircraft: Id
    duration: int
    people: int = 1
    skills: frozenset[str] = frozenset()
    equipment: tuple[tuple[str, int], ...] = ()
    needs_bay: bool = True
    alone: bool = False
    after: tuple[Id, ...] = ()
    other_person_than: tuple[Id, ...] = ()
    earliest: int = 0
    due_hard: int | None = None
    due_soft: int | None = None
    late_cost: int = 1
    drop_cost: int = 500


@dataclass(frozen=True, slots=True)
class Slot:
    """Where a job stands: from `start` up to `end`, in a bay or in the open, with people and units."""

    job_id: Id
    start: int
    end: int
    bay: Id | None
    people: tuple[Id, ...]
    equipment: tuple[Id, ...] = ()


@dataclass(frozen=True, slots=True)
class Costs:
    """Price of one more hangar visit, and of moving a job that was already published."""

    visit: int = 40
    move: int = 10


@dataclass(frozen=True, slots=True)
class Problem:
    """The week. `pinned` slots keep start, bay and people; their units are chosen anew."""

    jobs: tuple[Job, ...]
    bays: tuple[Bay, ...] = ()
    people: tuple[Person, ...] = ()
    equipment: tuple[Equipment, ...] = ()
    windows: tuple[Window, ...] = ()
    pinned: tuple[Slot, ...] = ()
    published: tuple[Slot, ...] = ()
    tow_in: int = 1
    tow_out: int = 1
    costs: Costs = field(default_factory=Costs)
    horizon: int = SLOTS_PER_WEEK


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A job without a place, with the reasons in words."""

    job_id: Id
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """A week plan. `bound` is a proven lower limit of the cost; `is_optimal` when nothing cheaper exists."""

    slots: tuple[Slot, ...]
    unplaced: tuple[Unplaced, ...]
    cost: int
    bound: int
    is_optimal: bool


@dataclass(frozen=True, slots=True)
class Mistake:
    """A fact of the week that makes no sense: which field, the value, and what to do."""

    field: str
    value: str
    detail: str
    remedy: str


class BadProblem(ValueError):
    """The week cannot be planned as described; `mistakes` name every wrong fact."""

    def __init__(self, mistakes: tuple[Mistake, ...]) -> None:
        super().__init__("; ".join(f"{m.field}: {m.detail}" for m in mistakes))
        self.mistakes = mistakes


def moment_words(slot: int) -> str:
    """A slot as day and time: slot 134 is "Tue 09:30"; the end of the week is "Sun 24:00"."""
    day, rest = divmod(slot, SLOTS_PER_DAY)
    if rest == 0 and slot > 0 and day % 7 == 0:
        day, rest = day - 1, SLOTS_PER_DAY
    hours, minutes = divmod(rest * MINUTES_PER_SLOT, 60)
    week = f" of week {day // 7 + 1}" if day >= 7 else ""
    return f"{DAY_NAMES[day % 7]} {hours:02d}:{minutes:02d}{week}"


def length_words(slots: int) -> str:
    """A length in words: 6 slots are "1 h 30 min"."""
    hours, minutes = divmod(slots * MINUTES_PER_SLOT, 60)
    return " ".join(
        part for part in (f"{hours} h" if hours else "", f"{minutes} min" if minutes else "") if part
    )


def slots_of(minutes: int) -> int:
    """Slots that hold so many minutes, rounded up: 50 minutes are 4 slots."""
    return -(-minutes // MINUTES_PER_SLOT)


def mistakes(problem: Problem) -> tuple[Mistake, ...]:
    """Everything about the week that makes no sense, before any planning.

    Example: a job of zero slots gives one mistake with field "jobs[J1].duration".
    """
    found = [*_twice(problem), *_wrong_spans(problem), *_overlapping_windows(problem)]
    jobs = {job.id: job for job in problem.jobs}
    for job in problem.jobs:
        found += _wrong_job(job, jobs)
    found += [
        Mistake(f"pinned[{slot.job_id}]", str(slot.job_id), "is no job of this week", "unpin it")
        for slot in problem.pinned
        if slot.job_id not in jobs
    ]
    return tuple(found or _circle(problem))


def _twice(problem: Problem) -> Iterator[Mistake]:
    named: tuple[tuple[str, Iterable[Id]], ...] = (
        ("jobs", (job.id for job in problem.jobs)),
        ("bays", (bay.id for bay in problem.bays)),
        ("people", (person.id for person in problem.people)),
        ("equipment", (unit.id for unit in problem.equipment)),
        ("pinned", (slot.job_id for slot in problem.pinned)),
    )
    for name, ids in named:
        for identity, times in Counter(ids).items():
            if times > 1:
                yield Mistake(name, str(identity), f"is listed {times} times", "list it once")


def _wrong_spans(problem: Problem) -> Iterator[Mistake]:
    spans = [(f"windows[{w.aircraft}]", w.start, w.end) for w in problem.windows]
    spans += [(f"shifts[{p.id}]", s.start, s.end) for p in problem.people for s in p.shifts]
    spans += [(f"bays[{b.id}].closed", s.start, s.end) for b in problem.bays for s in b.closed]
    spans += [(f"equipment[{e.id}]", s.start, s.end) for e in problem.equipment for s in e.available or ()]
    for name, start, end in spans:
        if not 0 <= start < end <= problem.horizon:
            remedy = f"start before it ends, within 0 to {problem.horizon}"
            yield Mistake(name, f"{start} to {end}", "does not run forward inside the week", remedy)


def _overlapping_windows(problem: Problem) -> Iterator[Mistake]:
    ordered = sorted(problem.windows, key=lambda w: (str(w.aircraft), w.start))
    for first, second in pairwise(ordered):
        if first.aircraft == second.aircraft and second.start < first.end:
            value = f"{moment_words(second.start)} before {moment_words(first.end)}"
            yield Mistake(
                f"windows[{first.aircraft}]", value, "two ground times overlap", "join or shorten them"
            )


def _wrong_job(job: Job, jobs: dict[Id, Job]) -> Iterator[Mistake]:
    name = f"jobs[{job.id}]"
    if job.duration < 1:
        yield Mistake(f"{name}.duration", str(job.duration), "takes no time", "give it one slot or more")
    if job.people < 0 or (job.people == 0 and job.skills):
        yield Mistake(
            f"{name}.people", str(job.people), "asks skills of nobody", "give it one person or more"
        )
    if min(job.late_cost, job.drop_cost, job.earliest) < 0:
        yield Mistake(name, "", "has a negative cost or time", "use zero or more")
    if any(count < 1 for _, count in job.equipment):
        yield Mistake(
            f"{name}.equipment", str(job.equipment), "asks for less than one unit", "ask for one or more"
        )
    for other in (*job.after, *job.other_person_than):
        if other == job.id or other not in jobs or jobs[other].aircraft != job.aircraft:
            detail = "is not another job on the same aircraft in this week"
            yield Mistake(f"{name}.after", str(other), detail, "leave it out if it is already closed")


def _circle(problem: Problem) -> Iterator[Mistake]:
    waiting = {job.id: set(job.after) for job in problem.jobs}
    while ready := [identity for identity, firsts in waiting.items() if not firsts & waiting.keys()]:
        for identity in ready:
            del waiting[identity]
    for identity in waiting:
        yield Mistake(
            f"jobs[{identity}].after", str(identity), "waits for itself in a circle", "break the circle"
        )
