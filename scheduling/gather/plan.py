"""Rows into the frozen facts of one week at one base. Decides nothing but what the planner is asked."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from django.db.models import Q, QuerySet

from fleet.common.clock import now
from fleet.models import Authorisation, Base, Calibration, Equipment, User
from scheduling.gather.week_clock import WeekClock, cut
from scheduling.models import (
    Bay,
    Before,
    Consequence,
    DueFact,
    GroundTime,
    ProcedureVersion,
    Shift,
    Slot,
    Task,
    TaskState,
    TaskWait,
    WeekPlan,
)
from scheduling.planner import problem as planner
from scheduling.planner.problem import SLOTS_PER_WEEK, Problem, Span, slots_of
from scheduling.steps.parse import procedure_from_data

LATE_COST = {
    Consequence.AIRWORTHINESS.value: 8,
    Consequence.ICING.value: 4,
    Consequence.OPERATION.value: 2,
    Consequence.NONE.value: 1,
}
DROP_BESIDES_LATENESS = 500
"""A task is left out only where it cannot stand at all: dropping costs more than being late all week."""

PLANNABLE = (TaskState.RAISED, TaskState.PLANNED)
BEGUN = (TaskState.IN_WORK, TaskState.AWAITING_SIGNATURE)


@dataclass(frozen=True, slots=True)
class WeekFacts:
    """The week as the planner is asked, and the rows behind its names.

    A job is named `task 12`, a bay and an aircraft by what people call them, people and units by their keys.
    """

    clock: WeekClock
    problem: Problem
    tasks: Mapping[str, Task]
    bays: Mapping[str, Bay]
    people: Mapping[int, User] = field(default_factory=dict)

    def with_pins(self, pinned: Iterable[planner.Slot]) -> Problem:
        """The problem with other pins."""
        return replace(self.problem, pinned=tuple(pinned))


def job_name(task_id: int) -> str:
    """What the planner calls a task."""
    return f"task {task_id}"


def week_facts(base: Base, monday: date, plan: WeekPlan | None = None) -> WeekFacts:
    """Everything known about one week at a base; pins are those of `plan`. A constant number of queries."""
    clock = WeekClock(monday, base.zone)
    grounds = _ground_times(base, clock)
    tasks = {job_name(task.pk): task for task in plannable_tasks(base, clock, grounds)}
    bays = {bay.name: bay for bay in base.bays.filter(Q(closed_on=None) | Q(closed_on__gt=monday))}
    busy = _busy(base, clock)
    published = _published_slots(base, monday)
    pins = _pins(plan, clock, tasks)
    problem = Problem(
        jobs=_jobs(clock, tasks, {pin.job_id for pin in pins}),
        bays=tuple(_bay(bay, base, clock, busy) for bay in bays.values()),
        people=_people(base, clock, busy),
        equipment=_equipment(base, clock, busy),
        windows=tuple(_windows(grounds, base, clock)),
        pinned=pins,
        published=tuple(planner_slot(slot, clock) for slot in published if job_name(slot.task_id) in tasks),
    )
    return WeekFacts(clock, problem, tasks, bays)


def plannable_tasks(base: Base, clock: WeekClock, grounds: Iterable[GroundTime] = ()) -> QuerySet[Task]:
    """Open work not begun on aircraft of the base or standing there, unless another plan still to come holds it."""
    visiting = {ground.aircraft_id for ground in grounds}
    here = Q(aircraft__base=base) | Q(aircraft_id__in=visiting)
    elsewhere = Slot.objects.filter(plan__state=WeekPlan.State.PUBLISHED, ends_at__gt=now()).exclude(
        plan__base=base, plan__monday=clock.monday
    )
    return (
        Task.objects.filter(here, operator_id=base.operator_id, state__in=PLANNABLE)
        .filter(procedure__isnull=False, aircraft__withdrawn_on=None)
        .exclude(pk__in=elsewhere.values("task_id"))
        .select_related("aircraft__aircraft_type", "procedure")
        .prefetch_related("aircraft__options")
        .order_by("pk")
    )


def _ground_times(base: Base, clock: WeekClock) -> list[GroundTime]:
    rows = GroundTime.objects.filter(base=base, starts_at__lt=clock.ends_at, ends_at__gt=clock.starts_at)
    return list(rows.select_related("aircraft").order_by("starts_at", "id"))


def _windows(grounds: Iterable[GroundTime], base: Base, clock: WeekClock) -> Iterable[planner.Window]:
    for ground in grounds:
        for span in clock.spans(ground.starts_at, ground.ends_at):
            yield planner.Window(ground.aircraft.registration, base.name, span.start, span.end)


@dataclass(frozen=True, slots=True)
class _Busy:
    """Who and what is taken by work already begun, by key."""

    bays: Mapping[int, list[Span]]
    people: Mapping[int, list[Span]]
    units: Mapping[int, list[Span]]


def _busy(base: Base, clock: WeekClock) -> _Busy:
    """Work in hand keeps its bay, people and equipment until the end of its published slot."""
    bays: dict[int, list[Span]] = defaultdict(list)
    people: dict[int, list[Span]] = defaultdict(list)
    units: dict[int, list[Span]] = defaultdict(list)
    rows = Slot.objects.filter(
        plan__base=base,
        plan__monday=clock.monday,
        plan__state=WeekPlan.State.PUBLISHED,
        task__state__in=BEGUN,
    )
    for slot in rows.prefetch_related("people", "equipment"):
        span = clock.span(slot.starts_at, slot.ends_at)
        if span is None:
            continue
        if slot.bay_id is not None:
            bays[slot.bay_id].append(span)
        for person in slot.people.all():
            people[person.pk].append(span)
        for unit in slot.equipment.all():
            units[unit.pk].append(span)
    return _Busy(bays, people, units)


def _bay(bay: Bay, base: Base, clock: WeekClock, busy: _Busy) -> planner.Bay:
    closed = list(busy.bays.get(bay.pk, []))
    if bay.closed_on is not None:
        first = max(0, clock.day_end(bay.closed_on) - SLOTS_PER_WEEK // 7)
        closed += [Span(first, SLOTS_PER_WEEK)] if first < SLOTS_PER_WEEK else []
    return planner.Bay(bay.name, bay.name, base.name, tuple(closed))


def _people(base: Base, clock: WeekClock, busy: _Busy) -> tuple[planner.Person, ...]:
    """Everybody with a shift, cut by what they are busy with, and what they may do on all the days they work."""
    shifts: dict[int, list[Span]] = defaultdict(list)
    days: dict[int, set[date]] = defaultdict(set)
    people: dict[int, User] = {}
    rows = Shift.objects.filter(base=base, starts_at__lt=clock.ends_at, ends_at__gt=clock.starts_at)
    for row in rows.select_related("person"):
        people[row.person_id] = row.person
        spans = cut(clock.spans(row.starts_at, row.ends_at), busy.people.get(row.person_id, []))
        shifts[row.person_id] += spans
        days[row.person_id] |= {date.fromordinal(clock.monday.toordinal() + s.start // 96) for s in spans}
    skills = _skills(base, people, days)
    return tuple(
        planner.Person(
            pk,
            person.full_name,
            skills.get(pk, frozenset()),
            tuple(planner.Shift(base.name, span.start, span.end) for span in shifts[pk]),
        )
        for pk, person in sorted(people.items())
        if shifts[pk]
    )


def _skills(
    base: Base, people: Mapping[int, User], days: Mapping[int, set[date]]
) -> dict[int, frozenset[str]]:
    """Chapters on types, by person, that their authorisations cover on every day they work."""
    held: dict[int, set[str]] = defaultdict(set)
    types = list(base.operator.aircraft_types.all())
    chapters = sorted(
        {ata[:2] for ata in ProcedureVersion.objects.filter(
            procedure__operator_id=base.operator_id, state=ProcedureVersion.State.CURRENT
        ).values_list("ata", flat=True)}
    )  # fmt: skip
    rows = Authorisation.objects.filter(
        operator_id=base.operator_id, act=Authorisation.Act.PERFORM, user_id__in=list(people)
    )
    for row in rows:
        if not all(_holds(row, day) for day in days[row.user_id]):
            continue
        for one in types:
            if row.aircraft_type_id in (None, one.pk):
                held[row.user_id] |= {
                    skill_name(chapter, one.name)
                    for chapter in chapters
                    if not row.ata_chapters or chapter in row.ata_chapters
                }
    return {pk: frozenset(names) for pk, names in held.items()}


def _holds(row: Authorisation, day: date) -> bool:
    return row.valid_from <= day <= row.valid_to and (row.revoked_on is None or row.revoked_on > day)


def skill_name(chapter: str, type_name: str) -> str:
    """What the planner calls the authorisation a job needs: "chapter 30 on Ptarmigan 300"."""
    return f"chapter {chapter} on {type_name}"


def _equipment(base: Base, clock: WeekClock, busy: _Busy) -> tuple[planner.Equipment, ...]:
    """Units of the base while their calibration holds and work in hand does not have them."""
    rows = list(Equipment.objects.filter(base=base, withdrawn_on=None).order_by("kind", "pk"))
    until = _calibrated_until(rows)
    found = []
    for row in rows:
        last = until.get(row.pk) if row.needs_calibration else date.max
        if last is None or last < clock.monday:
            continue
        end = SLOTS_PER_WEEK if last == date.max else min(SLOTS_PER_WEEK, clock.day_end(last))
        spans = cut([Span(0, end)], busy.units.get(row.pk, []))
        whole = spans == [Span(0, SLOTS_PER_WEEK)]
        unit = planner.Equipment(row.pk, f"{row.name} ({row.code})", row.kind, base.name)
        found.append(unit if whole else replace(unit, available=tuple(spans)))
    return tuple(found)


def _calibrated_until(rows: Iterable[Equipment]) -> dict[int, date]:
    found: dict[int, date] = {}
    for row in Calibration.objects.filter(equipment__in=[one.pk for one in rows]).order_by("done_on", "id"):
        found[row.equipment_id] = row.due_on
    return found


def _jobs(clock: WeekClock, tasks: Mapping[str, Task], pinned: set[planner.Id]) -> tuple[planner.Job, ...]:
    codes = {task.procedure_id for task in tasks.values() if task.procedure_id}
    versions = {
        row.procedure_id: row
        for row in ProcedureVersion.objects.filter(
            procedure_id__in=codes, state=ProcedureVersion.State.CURRENT
        )
    }
    after: dict[int, list[str]] = defaultdict(list)
    ids = [task.pk for task in tasks.values()]
    for wait in TaskWait.objects.filter(task_id__in=ids, first_id__in=ids).order_by("first_id"):
        after[wait.task_id].append(job_name(wait.first_id))
    facts = {
        fact.applicability_id: fact
        for fact in DueFact.objects.filter(
            applicability_id__in=[task.applicability_id for task in tasks.values() if task.applicability_id]
        )
    }
    earliest = min(SLOTS_PER_WEEK, max(0, clock.slot(now(), up=True)))
    jobs = []
    for name, task in tasks.items():
        version = versions.get(task.procedure_id or 0)
        if version is None:
            continue
        job = _job(task, version, tuple(after[task.pk]))
        start = 0 if name in pinned else earliest
        jobs.append(_with_due(job, task, clock, facts.get(task.applicability_id or 0), start))
    there = {job.id for job in jobs}
    return tuple(replace(job, after=tuple(one for one in job.after if one in there)) for job in jobs)


def _job(task: Task, version: ProcedureVersion, after: tuple[str, ...]) -> planner.Job:
    options = frozenset(option.code for option in task.aircraft.options.all())
    kinds = Counter(need.kind for need in procedure_from_data(version.content).equipment_for(options))
    late = LATE_COST[task.consequence]
    return planner.Job(
        id=job_name(task.pk),
        title=f"{task.title} on {task.aircraft.registration}",
        aircraft=task.aircraft.registration,
        duration=slots_of(version.minutes),
        people=version.people,
        skills=frozenset({skill_name(version.ata[:2], task.aircraft.aircraft_type.name)}),
        equipment=tuple(sorted(kinds.items())),
        after=after,
        late_cost=late,
        drop_cost=late * SLOTS_PER_WEEK + DROP_BESIDES_LATENESS,
    )


def _with_due(
    job: planner.Job, task: Task, clock: WeekClock, fact: DueFact | None, earliest: int
) -> planner.Job:
    """By when it is wanted.

    Soft: at once where it stops the next flight (or flight in icing), else the last lawful day or the early end
    of the projection. Hard: the last lawful day of what stops all flight, as long as it can still be kept.
    """
    wanted = [clock.day_end(task.latest_day)] if task.latest_day else []
    if fact is not None and task.latest_minutes is not None and fact.earliest_day is not None:
        wanted.append(clock.day_end(date.fromordinal(fact.earliest_day)))
    if task.before in (Before.NEXT_FLIGHT, Before.NEXT_ICING_FLIGHT):
        wanted.append(earliest)
    soft = max(0, min(wanted)) if wanted else None
    hard = None
    if task.consequence == Consequence.AIRWORTHINESS and task.latest_day is not None:
        last = clock.day_end(task.latest_day)
        hard = last if earliest + job.duration <= last <= SLOTS_PER_WEEK else None
    return replace(job, earliest=earliest, due_soft=soft, due_hard=hard)


def _published_slots(base: Base, monday: date) -> list[Slot]:
    rows = Slot.objects.filter(plan__base=base, plan__monday=monday, plan__state=WeekPlan.State.PUBLISHED)
    return list(rows.select_related("bay").prefetch_related("people", "equipment"))


def _pins(plan: WeekPlan | None, clock: WeekClock, tasks: Mapping[str, Task]) -> tuple[planner.Slot, ...]:
    if plan is None:
        return ()
    rows = plan.slots.filter(is_pinned=True).select_related("bay").prefetch_related("people", "equipment")
    return tuple(planner_slot(slot, clock) for slot in rows if job_name(slot.task_id) in tasks)


def planner_slot(slot: Slot, clock: WeekClock) -> planner.Slot:
    """A stored slot as the planner reads it."""
    start = clock.slot(slot.starts_at)
    return planner.Slot(
        job_id=job_name(slot.task_id),
        start=start,
        end=clock.slot(slot.ends_at, up=True),
        bay=slot.bay.name if slot.bay else None,
        people=tuple(sorted(person.pk for person in slot.people.all())),
        equipment=tuple(sorted(unit.pk for unit in slot.equipment.all())),
    )


def slots_of_plan(plan: WeekPlan, facts: WeekFacts) -> list[planner.Slot]:
    """The slots of a plan whose tasks can still be planned."""
    rows = plan.slots.select_related("bay").prefetch_related("people", "equipment")
    return [planner_slot(slot, facts.clock) for slot in rows if job_name(slot.task_id) in facts.tasks]
