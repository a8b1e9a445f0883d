"""The week as a constraint model: one function per constraint, one sentence each.

Some aircraft may be left as they stand (`fixed` slots): their people, units and bays are simply taken, which is
how a large week is improved a few aircraft at a time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from ortools.sat.python.cp_model import CpModel, Domain, IntervalVar, IntVar, LinearExprT

from scheduling.planner.board import Index
from scheduling.planner.problem import Bay, Equipment, Id, Job, Slot, Window
from scheduling.planner.timeline import bits, bits_of, spans_of, starts
from scheduling.planner.units import is_pooled


@dataclass(slots=True)
class WeekModel:
    """The model of one week: what may be decided, and what is asked of it."""

    facts: Index
    jobs: tuple[Job, ...]
    fixed: tuple[Slot, ...]
    model: CpModel = field(default_factory=CpModel)
    starts: dict[Id, IntVar] = field(default_factory=dict)
    present: dict[Id, IntVar] = field(default_factory=dict)
    intervals: dict[Id, IntervalVar] = field(default_factory=dict)
    possible: dict[tuple[Id, Window], int] = field(default_factory=dict)
    in_window: dict[tuple[Id, Window], IntVar] = field(default_factory=dict)
    works: dict[tuple[Id, Id], IntVar] = field(default_factory=dict)
    uses: dict[tuple[Id, Id], IntVar] = field(default_factory=dict)
    visited: dict[Window, IntVar] = field(default_factory=dict)
    stays_in: dict[tuple[Window, Id], IntVar] = field(default_factory=dict)
    stay: dict[Window, tuple[IntVar, IntVar, IntVar]] = field(default_factory=dict)
    late: dict[Id, IntVar] = field(default_factory=dict)
    moved: dict[Id, IntVar] = field(default_factory=dict)
    by_person: dict[Id, list[IntervalVar]] = field(default_factory=lambda: defaultdict(list))
    by_bay: dict[Id, list[IntervalVar]] = field(default_factory=lambda: defaultdict(list))


def build(
    facts: Index, jobs: Iterable[Job], fixed: Sequence[Slot] = (), ceiling: int | None = None
) -> WeekModel:
    """The whole model for these jobs, round the slots that are fixed; `ceiling` is a cost already reached."""
    week = WeekModel(facts, tuple(jobs), tuple(fixed))
    a_job_has_a_start_if_placed(week)
    a_job_lies_in_one_ground_time(week)
    what_comes_first_ends_first(week)
    work_done_alone_is_alone(week)
    enough_people_work_on_a_job(week)
    people_work_only_on_shift(week)
    a_person_does_one_job_at_a_time(week)
    an_inspector_did_not_do_the_work(week)
    units_suffice(week)
    an_aircraft_stays_in_one_bay(week)
    a_bay_holds_one_aircraft(week)
    lateness_is_counted(week)
    moves_of_published_jobs_are_counted(week)
    pinned_jobs_stay(week)
    the_plan_is_cheap(week)
    if ceiling is not None:
        what_is_too_dear_to_leave_out_is_placed(week, ceiling)
    return week


def a_job_has_a_start_if_placed(week: WeekModel) -> None:
    """A job starts at a slot where its aircraft, its due date and somebody's shift would allow it, or nowhere."""
    for job in week.jobs:
        everything = 0
        for window in week.facts.windows[job.aircraft]:
            possible = possible_starts(week.facts, job, window)
            if possible:
                week.possible[job.id, window] = possible
                everything |= possible
        start = week.model.new_int_var_from_domain(_domain(everything or 1), f"start {job.id}")
        present = week.model.new_bool_var(f"placed {job.id}")
        if not everything:
            week.model.add(present == 0)
        week.starts[job.id], week.present[job.id] = start, present
        week.intervals[job.id] = week.model.new_optional_fixed_size_interval_var(
            start, job.duration, present, f"job {job.id}"
        )


def a_job_lies_in_one_ground_time(week: WeekModel) -> None:
    """A placed job lies in exactly one ground time of its aircraft."""
    for job in week.jobs:
        windows = windows_of(week, job)
        if len(windows) == 1:
            week.in_window[job.id, windows[0]] = week.present[job.id]
            continue
        for window in windows:
            literal = week.model.new_bool_var(f"{job.id} in {window.start}")
            week.in_window[job.id, window] = literal
            domain = _domain(week.possible[job.id, window])
            week.model.add_linear_expression_in_domain(week.starts[job.id], domain).only_enforce_if(literal)
        week.model.add(sum(week.in_window[job.id, window] for window in windows) == week.present[job.id])


def what_comes_first_ends_first(week: WeekModel) -> None:
    """A job starts after everything it waits for has ended, and is not placed without it."""
    for job in week.jobs:
        for identity in job.after:
            earlier = week.facts.jobs[identity]
            week.model.add_implication(week.present[job.id], week.present[identity])
            week.model.add(week.starts[job.id] >= week.starts[identity] + earlier.duration).only_enforce_if(
                week.present[job.id]
            )


def work_done_alone_is_alone(week: WeekModel) -> None:
    """While work that must be done alone goes on, nobody else works on the aircraft."""
    for jobs in _by_aircraft(week).values():
        alone = [job for job in jobs if job.alone]
        if len(alone) > 1:
            week.model.add_no_overlap([week.intervals[job.id] for job in alone])
        for job in alone:
            for other in jobs:
                if not other.alone:
                    week.model.add_no_overlap([week.intervals[job.id], week.intervals[other.id]])


def enough_people_work_on_a_job(week: WeekModel) -> None:
    """A placed job has all its people, and one of them at least has all the skills it asks."""
    for job in week.jobs:
        if not job.people:
            continue
        team = [person.id for person in week.facts.problem.people if reach(week, job, person.id)]
        for person in team:
            week.works[job.id, person] = week.model.new_bool_var(f"{person} on {job.id}")
        skilled = [person for person in team if job.skills <= week.facts.skills[person]]
        week.model.add(sum(week.works[job.id, p] for p in team) == job.people * week.present[job.id])
        week.model.add(sum(week.works[job.id, p] for p in skilled) >= week.present[job.id])


def people_work_only_on_shift(week: WeekModel) -> None:
    """A person works on a job only if one unbroken shift at the aircraft's base holds all of it."""
    for (job_id, person), works in week.works.items():
        job = week.facts.jobs[job_id]
        within = reach(week, job, person)
        if within != all_starts(week, job):
            start = week.starts[job_id]
            week.model.add_linear_expression_in_domain(start, _domain(within)).only_enforce_if(works)


def a_person_does_one_job_at_a_time(week: WeekModel) -> None:
    """No person is on two jobs at once, those that are fixed included."""
    for (job_id, person), works in week.works.items():
        duration = week.facts.jobs[job_id].duration
        interval = week.model.new_optional_fixed_size_interval_var(
            week.starts[job_id], duration, works, f"{person} on {job_id}"
        )
        week.by_person[person].append(interval)
    for slot in week.fixed:
        for person in slot.people:
            if person in week.by_person:
                week.by_person[person].append(_fixed_interval(week, slot.start, slot.end))
    for intervals in week.by_person.values():
        week.model.add_no_overlap(intervals)


def an_inspector_did_not_do_the_work(week: WeekModel) -> None:
    """Nobody works on a job that must be independent of another job they worked on."""
    for job in week.jobs:
        for other in job.other_person_than:
            for person in week.facts.skills:
                if (job.id, person) in week.works and (other, person) in week.works:
                    week.model.add_at_most_one(week.works[job.id, person], week.works[other, person])


def units_suffice(week: WeekModel) -> None:
    """At no time are more units of a kind in use at a base than are there and in calibration."""
    wanted: dict[tuple[str, str], list[tuple[Job, Window, int]]] = defaultdict(list)
    for job in week.jobs:
        for kind, count in job.equipment:
            for window in windows_of(week, job):
                wanted[window.base, kind].append((job, window, count))
    for pool, wishes in wanted.items():
        units = week.facts.units.get(pool, [])
        if not units:
            week.model.add(sum(week.in_window[job.id, window] for job, window, _ in wishes) == 0)
        elif is_pooled(units):
            _one_pool(week, units, wishes)
        else:
            _single_units(week, units, wishes)


def an_aircraft_stays_in_one_bay(week: WeekModel) -> None:
    """In one ground time an aircraft is towed into one bay, stays for all its jobs there and is towed out."""
    tow_in, tow_out = week.facts.problem.tow_in, week.facts.problem.tow_out
    for window, jobs in _bay_jobs(week).items():
        visited = week.model.new_bool_var(f"visit {window.aircraft} {window.start}")
        arrives = week.model.new_int_var(window.start, window.end, "arrives")
        leaves = week.model.new_int_var(window.start, window.end, "leaves")
        length = week.model.new_int_var(0, window.end - window.start, "stay")
        week.visited[window], week.stay[window] = visited, (arrives, leaves, length)
        bays = week.facts.bays[window.base]
        for bay in bays:
            week.stays_in[window, bay.id] = week.model.new_bool_var(f"in bay {bay.id}")
        week.model.add(sum(week.stays_in[window, bay.id] for bay in bays) == visited)
        for job in jobs:
            literal, start = week.in_window[job.id, window], week.starts[job.id]
            week.model.add_implication(literal, visited)
            week.model.add(arrives <= start - tow_in).only_enforce_if(literal)
            week.model.add(leaves >= start + job.duration + tow_out).only_enforce_if(literal)


def a_bay_holds_one_aircraft(week: WeekModel) -> None:
    """A bay holds one aircraft at a time, towing included, and none while it is closed."""
    bays: dict[Id, Bay] = {bay.id: bay for bay in week.facts.problem.bays}
    for (window, bay_id), literal in week.stays_in.items():
        arrives, leaves, length = week.stay[window]
        interval = week.model.new_optional_interval_var(arrives, length, leaves, literal, f"stay in {bay_id}")
        week.by_bay[bay_id].append(interval)
    for _, bay_id, start, end in stays_of(week.facts, week.fixed):
        if bay_id in week.by_bay:
            week.by_bay[bay_id].append(_fixed_interval(week, start, end))
    for bay_id, intervals in week.by_bay.items():
        closed = [_fixed_interval(week, span.start, span.end) for span in bays[bay_id].closed]
        week.model.add_no_overlap([*intervals, *closed])


def lateness_is_counted(week: WeekModel) -> None:
    """A job is late by the slots between its soft due and its end."""
    for job in week.jobs:
        if job.due_soft is not None and job.late_cost:
            late = week.model.new_int_var(0, week.facts.problem.horizon, f"late {job.id}")
            end = week.starts[job.id] + job.duration
            week.model.add(late >= end - job.due_soft).only_enforce_if(week.present[job.id])
            week.late[job.id] = late


def moves_of_published_jobs_are_counted(week: WeekModel) -> None:
    """A published job counts as moved if its start, its bay or any of its people change."""
    for job in week.jobs:
        before = week.facts.published.get(job.id)
        if before is None:
            continue
        moved = week.model.new_bool_var(f"moved {job.id}")
        week.moved[job.id] = moved
        if len(set(before.people)) != job.people or (before.bay is None) == job.needs_bay:
            week.model.add(moved >= week.present[job.id])
        unmoved = [week.present[job.id], moved.negated()]
        week.model.add(week.starts[job.id] == before.start).only_enforce_if(unmoved)
        for person in before.people:
            works = week.works.get((job.id, person))
            week.model.add((0 if works is None else works) + moved >= week.present[job.id])
        if job.needs_bay:
            for window in windows_of(week, job):
                for bay in week.facts.bays[window.base]:
                    if bay.id != before.bay:
                        both = week.in_window[job.id, window] + week.stays_in[window, bay.id]
                        week.model.add(both <= 1 + moved)


def pinned_jobs_stay(week: WeekModel) -> None:
    """A pinned job keeps its start, its bay and its people."""
    for job in week.jobs:
        pin = week.facts.pinned.get(job.id)
        if pin is None:
            continue
        week.model.add(week.present[job.id] == 1)
        week.model.add(week.starts[job.id] == pin.start)
        for person in pin.people:
            week.model.add(week.works[job.id, person] == 1)
        window = week.facts.window_at(job, pin.start)
        if window is not None and pin.bay is not None:
            week.model.add(week.stays_in[window, pin.bay] == 1)


def the_plan_is_cheap(week: WeekModel) -> None:
    """The cheapest plan leaves little out, is little late, tows seldom and changes little."""
    costs = week.facts.problem.costs
    terms: list[LinearExprT] = [job.drop_cost * (1 - week.present[job.id]) for job in week.jobs]
    terms += [week.facts.jobs[identity].late_cost * late for identity, late in week.late.items()]
    terms += [costs.visit * visited for visited in week.visited.values()]
    terms += [costs.move * moved for moved in week.moved.values()]
    week.model.minimize(sum(terms))


def what_is_too_dear_to_leave_out_is_placed(week: WeekModel, ceiling: int) -> None:
    """A job whose absence alone would cost more than a plan already found is placed in every better plan."""
    for job in week.jobs:
        if job.drop_cost > ceiling:
            week.model.add(week.present[job.id] == 1)


def possible_starts(facts: Index, job: Job, window: Window) -> int:
    """Starts that ground time and due date allow, as bits."""
    before, after = facts.towing(job)
    latest = facts.problem.horizon if job.due_hard is None else job.due_hard
    found = starts(bits(window.start + before, min(window.end - after, latest)), job.duration)
    return found & ~bits(0, job.earliest)


def stays_of(facts: Index, slots: Iterable[Slot]) -> list[tuple[Window, Id, int, int]]:
    """The stays in bays that slots ask for, towing included: ground time, bay, from, up to."""
    found: dict[Window, tuple[Id, int, int]] = {}
    for slot in slots:
        window = facts.window_at(facts.jobs[slot.job_id], slot.start)
        if slot.bay is not None and window is not None:
            start, end = slot.start - facts.problem.tow_in, slot.end + facts.problem.tow_out
            _, earlier, later = found.get(window, (slot.bay, start, end))
            found[window] = (slot.bay, min(start, earlier), max(end, later))
    return [(window, *stay) for window, stay in found.items()]


def _one_pool(week: WeekModel, units: Sequence[Equipment], wanted: list[tuple[Job, Window, int]]) -> None:
    names = {unit.id for unit in units}
    intervals: list[IntervalVar] = []
    demands: list[int] = []
    for job, window, count in wanted:
        literal, start = week.in_window[job.id, window], week.starts[job.id]
        intervals.append(
            week.model.new_optional_fixed_size_interval_var(
                start, job.duration, literal, f"units for {job.id}"
            )
        )
        demands.append(count)
    for slot in week.fixed:
        taken = len(names & set(slot.equipment))
        if taken:
            intervals.append(_fixed_interval(week, slot.start, slot.end))
            demands.append(taken)
    if units[0].available is not None:
        away = bits(0, week.facts.problem.horizon) & ~bits_of(units[0].available)
        for span in spans_of(away):
            intervals.append(_fixed_interval(week, span.start, span.end))
            demands.append(len(units))
    week.model.add_cumulative(intervals, demands, len(units))


def _single_units(week: WeekModel, units: Sequence[Equipment], wanted: list[tuple[Job, Window, int]]) -> None:
    busy: dict[Id, list[IntervalVar]] = {unit.id: [] for unit in units}
    for job, count in dict.fromkeys((job, count) for job, _, count in wanted):
        inside = sum(week.in_window[job.id, window] for other, window, _ in wanted if other.id == job.id)
        for unit in units:
            uses = week.model.new_bool_var(f"{unit.id} for {job.id}")
            week.uses[job.id, unit.id] = uses
            interval = week.model.new_optional_fixed_size_interval_var(
                week.starts[job.id], job.duration, uses, f"{unit.id} for {job.id}"
            )
            busy[unit.id].append(interval)
        week.model.add(sum(week.uses[job.id, unit.id] for unit in units) == count * inside)
    for unit in units:
        away = 0 if unit.available is None else bits(0, week.facts.problem.horizon) & ~bits_of(unit.available)
        blocked = [(span.start, span.end) for span in spans_of(away)]
        blocked += [(slot.start, slot.end) for slot in week.fixed if unit.id in slot.equipment]
        week.model.add_no_overlap([*busy[unit.id], *(_fixed_interval(week, *span) for span in blocked)])


def windows_of(week: WeekModel, job: Job) -> list[Window]:
    """The ground times in which a job could be done at all."""
    return [window for window in week.facts.windows[job.aircraft] if (job.id, window) in week.possible]


def all_starts(week: WeekModel, job: Job) -> int:
    """Every start a job could have, as bits."""
    found = 0
    for window in windows_of(week, job):
        found |= week.possible[job.id, window]
    return found


def reach(week: WeekModel, job: Job, person: Id) -> int:
    """The starts of a job that a person's shifts at the aircraft's base allow, as bits."""
    found = 0
    for window in windows_of(week, job):
        shift = week.facts.shifts[window.base].get(person, 0)
        found |= week.possible[job.id, window] & starts(shift, job.duration)
    return found


def _by_aircraft(week: WeekModel) -> dict[Id, list[Job]]:
    found: dict[Id, list[Job]] = defaultdict(list)
    for job in week.jobs:
        found[job.aircraft].append(job)
    return found


def _bay_jobs(week: WeekModel) -> dict[Window, list[Job]]:
    found: dict[Window, list[Job]] = defaultdict(list)
    for job in week.jobs:
        for window in windows_of(week, job) if job.needs_bay else ():
            found[window].append(job)
    return found


def _domain(mask: int) -> Domain:
    return Domain.from_intervals([[span.start, span.end - 1] for span in spans_of(mask)])


def _fixed_interval(week: WeekModel, start: int, end: int) -> IntervalVar:
    return week.model.new_fixed_size_interval_var(start, end - start, "taken")
