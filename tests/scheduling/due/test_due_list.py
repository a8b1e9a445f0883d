"""The due list: its kept days say the same as the engine on any day, and its pages hold every item once."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from fleet.common.clock import frozen, local_day, now
from fleet.common.errors import Invalid, NotFound
from fleet.common.wording import day, hours
from fleet.models import Meter
from fleet.services.meters import NewFlight, post_flight
from scheduling.due.engine import bare_due_of
from scheduling.due.levels import levels_of
from scheduling.due.parse import limits_from_data
from scheduling.due.terms import DueStatus, Facts, Mark, Since
from scheduling.models import Applicability, DueFact, Task
from scheduling.selectors.board import board
from scheduling.selectors.due_item import due_rows, explain_due
from scheduling.selectors.due_list import counts, exported, filtered, page_of
from scheduling.selectors.due_query import query_from
from scheduling.selectors.tasks import by_when, task_for
from scheduling.selectors.what_if import if_done_on, if_flies, if_limits_were
from scheduling.services.due import heal_due, raise_due_tasks, refresh_due
from tests.makers import AircraftMaker, House, make_house
from tests.scheduling.due.makers import (
    HUNDRED_HOURS,
    TWELVE_MONTHS,
    apply,
    first_of,
    last_of,
    make_procedure,
    make_requirement,
)
from tests.words import plain, plain_lines

TODAY = now().date()


def random_limits(dice: random.Random, depth: int = 0) -> dict:
    if depth < 2 and dice.random() < 0.4:
        members = [random_limits(dice, depth + 1) for _ in range(dice.randint(2, 3))]
        return {"combine": dice.choice(["first", "last"]), "of": members}
    return dice.choice([
        {"measure": "hours", "every": f"{dice.randint(20, 300)}:00"},
        {"measure": "landings", "every": dice.randint(50, 400)},
        {"measure": "days", "every": dice.randint(40, 400)},
        {"measure": "months", "every": dice.randint(2, 24)},
        {"measure": "date", "every": (date(2025, 1, 1) + timedelta(days=dice.randint(0, 900))).isoformat()},
    ])  # fmt: skip


def test_the_levels_say_on_any_later_day_what_the_engine_says_on_that_day() -> None:
    dice = random.Random(20260311)
    for _ in range(1_500):
        limits = limits_from_data(random_limits(dice))
        today = date(2025, 6, 1) + timedelta(days=dice.randint(0, 300))
        counters = {"hours": dice.randint(0, 20_000), "landings": dice.randint(0, 600)}
        marks = {}
        if dice.random() < 0.9:
            known = {
                name: value for name, value in {"hours": 0, "landings": 0}.items() if dice.random() < 0.9
            }
            marks[Since.LAST_DONE] = Mark(date(2025, 1, 1) + timedelta(days=dice.randint(0, 150)), known)
        facts = Facts(today, Mark(today, counters), marks)
        levels = levels_of(limits, bare_due_of(limits, facts).limits, facts)
        for ahead in (0, 1, dice.randint(2, 60), dice.randint(61, 900)):
            then = today + timedelta(days=ahead)
            later = replace(facts, today=then, now=Mark(then, counters))
            assert levels.state_on(then.toordinal()) is bare_due_of(limits, later).status


@pytest.fixture
def house(db: None) -> House:
    return make_house(minutes=65_500)


@pytest.fixture
def full(house: House) -> House:
    """Forty items on two aircraft, by calendar, hours, both and neither known."""
    other = AircraftMaker(operator=house.operator, base=house.base, aircraft_type=house.aircraft_type)
    for number in range(20):
        limits = [
            HUNDRED_HOURS,
            TWELVE_MONTHS,
            first_of(HUNDRED_HOURS, TWELVE_MONTHS),
            last_of(HUNDRED_HOURS, TWELVE_MONTHS),
        ]
        row = make_requirement(
            house.operator, f"item-{number}", limits=limits[number % 4], ata=f"{number % 3 + 30}-10"
        )
        for aircraft in (house.aircraft, other):
            known = {} if number == 7 else {"day": TODAY - timedelta(days=number * 25), "hours": 60_000}
            if known and aircraft is other:
                known["hours"] = 54_500
            apply(row, aircraft, **known)
    refresh_due()
    return house


def test_every_item_stands_on_exactly_one_page_in_both_directions(full: House) -> None:
    actor = full.actor("controller")
    for sort in ("due", "-due", "aircraft", "-aircraft"):
        query = query_from({"sort": sort, "limit": "7"})
        seen: list[int] = []
        page = page_of(filtered(actor, query), query)
        pages = [page]
        while page.next_cursor:
            page = page_of(filtered(actor, query), replace(query, after=page.next_cursor))
            pages.append(page)
        seen = [pk for one in pages for pk in one.ids]
        assert len(seen) == len(set(seen)) == 40
        back = page_of(filtered(actor, query), replace(query, before=pages[-1].previous_cursor))
        assert back.ids == pages[-2].ids
        assert not pages[0].previous_cursor


def test_filters_find_what_the_engine_finds(full: House) -> None:
    actor = full.actor("controller")
    rows = due_rows(actor, Applicability.objects.values_list("pk", flat=True))
    for state in ("overdue", "due", "due_soon", "unknown", "ok"):
        query = query_from({"state": state, "limit": "200"})
        found = set(page_of(filtered(actor, query), query).ids)
        assert found == {row.id for row in rows if row.state == state}, state
        assert counts(actor, query)[state] == len(found)
    query = query_from({"ata": "31", "aircraft": full.aircraft.registration.lower(), "limit": "200"})
    found = set(page_of(filtered(actor, query), query).ids)
    assert found == {r.id for r in rows if r.ata == "31-10" and r.registration == full.aircraft.registration}
    query = query_from({"q": "item-13", "limit": "200"})
    assert {row.code for row in due_rows(actor, page_of(filtered(actor, query), query).ids)} == {"item-13"}


def test_the_states_of_the_export_are_those_of_the_rows(full: House) -> None:
    actor = full.actor("controller")
    query = query_from({"limit": "200"})
    ids = page_of(filtered(actor, query), query).ids
    assert [state for state, _ in exported(actor, query)] == [row.state for row in due_rows(actor, ids)]


def test_the_queries_for_forty_items_are_as_many_as_for_four(full: House) -> None:
    actor = full.actor("controller")
    spent = []
    for size in (4, 40):
        ids = list(Applicability.objects.values_list("pk", flat=True)[:size])
        with CaptureQueriesContext(
            connection,
        ) as captured:
            due_rows(actor, ids)
        spent.append(len(captured))
    assert spent[0] == spent[1] < 20


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"state": "purple"}, "state"),
        ({"sort": "colour"}, "sort"),
        ({"window": "-3"}, "window"),
        ({"window": "99999"}, "window"),
        ({"base": "nowhere"}, "base"),
        ({"aircraft": "QX-NONE"}, "aircraft"),
        ({"after": "garbage"}, "after"),
        ({"after": "WyJ4Il0"}, "after"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused_by_field(full: House, data: dict, field: str) -> None:
    def ask() -> None:
        query = query_from(data)
        page_of(filtered(full.actor("controller"), query), query)

    with pytest.raises(Invalid) as caught:
        ask()
    assert caught.value.reasons[0].field == field


def test_another_operators_items_are_nowhere(full: House) -> None:
    stranger = make_house().actor("controller")
    query = query_from({})
    assert page_of(filtered(stranger, query), query).ids == ()
    assert due_rows(stranger, Applicability.objects.values_list("pk", flat=True)) == []
    with pytest.raises(NotFound):
        explain_due(stranger, Applicability.objects.first().pk)


def test_a_counter_that_moved_is_noticed_although_nobody_said_so(house: House) -> None:
    applied = apply(make_requirement(house.operator), house.aircraft, day=date(2025, 3, 1), hours=60_000)
    refresh_due()
    assert DueFact.objects.get().reached_day is None
    Meter.objects.filter(aircraft=house.aircraft, kind="minutes").update(value=F("value") + 600)
    assert DueFact.objects.get().reached_day is None
    assert due_rows(house.actor("controller"), [applied.pk])[0].state == "overdue"
    heal_due(actor=house.actor("controller"))
    assert DueFact.objects.get().overdue_day == 0


def test_the_turn_of_a_day_rewrites_nothing_but_when_what_is_reached_falls_due(full: House) -> None:
    facts = DueFact.objects.order_by("pk")
    today = local_day(full.base.zone).toordinal()
    due_now = list(facts.filter(projected_day=today).values_list("pk", flat=True))
    others, reached = facts.exclude(pk__in=due_now), facts.filter(pk__in=due_now)
    before = list(others.values())
    with frozen(now() + timedelta(days=1)):
        assert heal_due(actor=full.actor("controller")) == len(due_now) == 2
        assert heal_due(actor=full.actor("controller")) == 0
    assert list(others.values()) == before
    assert set(reached.values_list("projected_day", flat=True)) == {today + 1}


def test_what_a_counter_has_reached_is_due_now_and_not_on_a_projected_day(house: House) -> None:
    by_hours = apply(make_requirement(house.operator, "hours"), house.aircraft, day=TODAY, hours=50_000)
    both = make_requirement(house.operator, "both", limits=first_of(HUNDRED_HOURS, TWELVE_MONTHS))
    by_day = apply(both, house.aircraft, day=TODAY - timedelta(days=400), hours=50_000)
    hours, day = due_rows(house.actor("controller"), [by_hours.pk, by_day.pk])
    assert hours.projection == "now (the limit has been reached)"
    assert day.projection.endswith("(by the calendar)")


def test_an_item_says_why_it_is_due_line_by_line(house: House) -> None:
    applied = apply(
        make_requirement(house.operator),
        house.aircraft,
        day=date(2025, 3, 1),
        hours=60_000,
        proof="QX-T001-000004",
    )
    found = explain_due(house.actor("auditor"), applied.pk)
    lines = plain_lines(found.row.explanation)
    assert lines[0] == "Due soon by flight hours: 8:20 h left, due at 1 100:00 h."
    assert "Last done 1 Mar 2025 at 1 000:00 h (record QX-T001-000004)." in lines
    assert "1 000:00 h + 100:00 h = 1 100:00 h." in lines
    assert plain(found.last_done) == "1 Mar 2025 at 1 000:00 h"
    assert plain(found.limits[0].if_done_now) == "flight hours: done 8:20 h early, next at 1 191:40 h"
    assert found.row.projection.startswith("no date: ")


def test_a_date_never_stands_without_its_interval(house: House) -> None:
    for number in range(40):
        moment = now() - timedelta(days=number + 1)
        flight = NewFlight(house.aircraft.pk, moment, 60, 1, 1, f"F{number}")
        post_flight(actor=house.actor("controller"), flight=flight)
    apply(make_requirement(house.operator), house.aircraft, day=TODAY, hours=67_000)
    heal_due(actor=house.actor("controller"))
    fact = DueFact.objects.get()
    assert fact.projected_day is not None
    assert fact.earliest_day is not None
    assert fact.earliest_day <= fact.projected_day <= (fact.latest_day or fact.projected_day)
    row = due_rows(house.actor("controller"), [fact.pk])[0]
    assert "(80 %: " in row.projection


def test_the_board_names_the_most_urgent_line_with_its_state_and_its_interval(house: House) -> None:
    actor = house.actor("controller")
    for number in range(40):
        flight = NewFlight(house.aircraft.pk, now() - timedelta(days=number + 1), 60, 1, 1, f"F{number}")
        post_flight(actor=actor, flight=flight)
    apply(make_requirement(house.operator), house.aircraft, day=TODAY, hours=67_000)
    heal_due(actor=actor)
    (ahead,) = [row.next_due for row in board(actor).rows]
    assert ahead is not None
    assert ahead.outlook.day is not None
    assert (ahead.state, ahead.is_pressing) == (DueStatus.OK, False)
    assert ahead.words.startswith(f"{day(ahead.outlook.day)} (80 %: ")
    late = make_requirement(house.operator, "late", title="Late check")
    apply(late, house.aircraft, day=TODAY, hours=60_000)
    heal_due(actor=actor)
    (now_due,) = [row.next_due for row in board(actor).rows]
    assert now_due is not None
    assert (now_due.title, now_due.state_words, now_due.is_pressing) == ("Late check", "Overdue", True)


def test_due_work_is_raised_once_and_again_only_when_it_is_gone(house: House) -> None:
    procedure = make_procedure(house.operator)
    apply(
        make_requirement(house.operator, procedure=procedure),
        house.aircraft,
        day=date(2025, 3, 1),
        hours=60_000,
    )
    apply(make_requirement(house.operator, "bare"), house.aircraft, day=date(2025, 3, 1), hours=60_000)
    work = raise_due_tasks(actor=house.actor("controller"))
    assert (len(work.raised), len(work.joined)) == (1, 0)
    assert work.without_procedure == (f"bare on {house.aircraft.registration}",)
    task = Task.objects.get()
    assert (task.latest_minutes, task.before, task.applicability.code) == (66_000, "due", "check-100")
    assert plain(task.causes.get().words) == "100-hour check (check-100) falls due at 1 100:00 h"
    version = task.version
    again = raise_due_tasks(actor=house.actor("controller"))
    task.refresh_from_db()
    assert (len(again.raised), len(again.joined), task.version) == (0, 0, version)
    assert not by_when(task_for(house.actor("controller"), task.pk)).startswith("overdue")
    flight = NewFlight(house.aircraft.pk, now() - timedelta(hours=12), 600, 1, 1, "past the limit")
    post_flight(actor=house.actor("controller"), flight=flight)
    assert by_when(task_for(house.actor("controller"), task.pk)) == f"overdue: before {hours(66_000)}"


def test_what_if_moves_dates_and_saves_nothing(house: House) -> None:
    applied = apply(make_requirement(house.operator), house.aircraft, day=date(2025, 3, 1), hours=60_000)
    refresh_due()
    before = list(DueFact.objects.values())
    actor = house.actor("controller")
    # 500 minutes are left: 60 a day last through the eighth day from today
    flown = if_flies(actor, house.aircraft.registration, 60)
    assert flown.changes[0].day_after == TODAY + timedelta(days=8)
    done = if_done_on(actor, applied.pk, TODAY)
    assert plain_lines(done.steps) == ("flight hours: done 8:20 h early, next at 1 191:40 h",)
    longer = if_limits_were(actor, applied.pk, {"measure": "hours", "every": "200:00"})
    assert longer.changes[0].state_after == "Not due yet"
    assert list(DueFact.objects.values()) == before
    with pytest.raises(Invalid):
        if_done_on(actor, applied.pk, TODAY - timedelta(days=2))
    with pytest.raises(Invalid):
        if_flies(actor, house.aircraft.registration, 1441)
