"""The weeks ahead: bays, who works when, and when which aircraft stands at its base."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleet.models import Base, User
from records.management.demo.scenario import Scenario, written
from scheduling.models import Bay, GroundTime, Shift, WeekPlan
from scheduling.services.plans import ask_for_week, discard_draft, publish_week
from scheduling.services.week_solving import solve_asked

WEEKS = 4
PLANNED_BASE, SECONDS_TO_PLAN = "norrvik", 2.0
LATE_IN_WEEK = 3
EARLY, LATE = (time(6, 30), time(15)), (time(14), time(22, 30))
NIGHT_FROM, NIGHT_TO = time(19, 30), time(5, 30)
OFF_THE_LINE = "QX-SKJ"
GROUNDED = ("panel_replaced", "tank_refitted", "overdue", "failed_test", "long_storage")


def set_up_weeks(scenario: Scenario) -> None:
    """Bays now, shifts and ground times from this Monday on."""
    for row in written("demo/fleet.json")["bays"]:
        for name in row["names"]:
            Bay.objects.create(base=scenario.bases[row["base"]], name=name)
    monday = scenario.today - timedelta(days=scenario.today.weekday())
    days = [monday + timedelta(days=number) for number in range(7 * WEEKS)]
    Shift.objects.bulk_create(shift for day in days for shift in _shifts(scenario, day))
    grounds = [
        GroundTime(aircraft=aircraft, base=aircraft.base, starts_at=start, ends_at=end)
        for registration, aircraft in scenario.aircraft.items()
        for start, end in _on_ground(
            aircraft.base, days, is_grounded=scenario.stories[registration] in GROUNDED
        )
    ]
    GroundTime.objects.bulk_create([*grounds, _day_off_the_line(scenario)])


def _day_off_the_line(scenario: Scenario) -> GroundTime:
    """One aircraft stays in for its annual inspection on the next weekday but one."""
    day = scenario.today + timedelta(days=2)
    while day.weekday() > 4:
        day += timedelta(days=1)
    aircraft = scenario.aircraft[OFF_THE_LINE]
    zone = ZoneInfo(aircraft.base.zone)
    starts_at, ends_at = (datetime.combine(day, clock, zone) for clock in (time(6), time(19, 30)))
    return GroundTime(aircraft=aircraft, base=aircraft.base, starts_at=starts_at, ends_at=ends_at)


def _shifts(scenario: Scenario, day: date) -> list[Shift]:
    """Early and late change weekly; one of each base's people also works Saturdays."""
    rows = []
    everybody = written("demo/fleet.json")["people"]
    working = [row for row in everybody if {"technician", "inspector"} & set(row["roles"])]
    for number, row in enumerate(working):
        is_saturday_turn = day.weekday() == 5 and (number + day.isocalendar().week) % 3 == 0
        if day.weekday() > 4 and not is_saturday_turn:
            continue
        span = EARLY if (number + day.isocalendar().week) % 2 else LATE
        base = scenario.bases[row["base"]]
        rows.append(_shift(scenario.people[row["username"]], base, day, span))
    return rows


def _shift(person: User, base: Base, day: date, span: tuple[time, time]) -> Shift:
    zone = ZoneInfo(base.zone)
    starts_at, ends_at = (datetime.combine(day, clock, zone) for clock in span)
    return Shift(person=person, base=base, starts_at=starts_at, ends_at=ends_at)


def _on_ground(base: Base, days: list[date], *, is_grounded: bool) -> list[tuple[datetime, datetime]]:
    """Every night; all Sunday; all week where the aircraft does not fly anyway."""
    zone = ZoneInfo(base.zone)
    if is_grounded:
        first, last = days[0], days[-1] + timedelta(days=1)
        return [(datetime.combine(first, time(0), zone), datetime.combine(last, time(0), zone))]
    spans = []
    for day in days:
        follows = day + timedelta(days=2 if day.weekday() == 5 else 1)
        if day.weekday() == 6:
            continue
        spans.append((datetime.combine(day, NIGHT_FROM, zone), datetime.combine(follows, NIGHT_TO, zone)))
    return spans


def plan_weeks(scenario: Scenario) -> list[WeekPlan]:
    """The week at the main base, planned and published; late in the week the next one, too."""
    monday = scenario.today - timedelta(days=scenario.today.weekday())
    weeks = [monday] if scenario.today.weekday() < LATE_IN_WEEK else [monday, monday + timedelta(days=7)]
    return [plan for first in weeks if (plan := _planned(scenario, first)) is not None]


def _planned(scenario: Scenario, monday: date) -> WeekPlan | None:
    """None where nothing found a place."""
    base, actor = scenario.bases[PLANNED_BASE], scenario.actor("edda")
    plan = ask_for_week(actor=actor, base_id=base.pk, monday=monday)
    solve_asked(seconds=SECONDS_TO_PLAN)
    if plan.slots.exists():
        return publish_week(actor=actor, plan_id=plan.pk)
    discard_draft(actor=actor, plan_id=plan.pk)
    return None
