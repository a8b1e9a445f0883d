"""The operating status from open work, relief and overdue items."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.status import (
    ByWhen,
    Consequence,
    FlightState,
    OpenItem,
    OverdueItem,
    ReasonCode,
    ReliefFacts,
    operating_status,
    start_refusal,
)
from scheduling.triggers.terms import TaskState

NOW = datetime(2026, 1, 20, 12, 0, tzinfo=UTC)
FREE, ICING, GROUNDED = FlightState.FREE_TO_FLY, FlightState.RESTRICTED_ICING, FlightState.NOT_RELEASABLE


def item(consequence=Consequence.ICING, state=TaskState.RAISED, by_when=ByWhen.NEXT_ICING_FLIGHT, **more):
    return OpenItem(1, "Panel flow test", consequence, state, by_when, **more)


def relief(hours_left=48, covers=Consequence.ICING, task_ids=None):
    begun = NOW - timedelta(days=3)
    return ReliefFacts(9, "30-12-1", covers, begun, NOW + timedelta(hours=hours_left), task_ids=task_ids)


def state(items=(), reliefs=(), overdue=()):
    return operating_status(items, reliefs, overdue, NOW).state


def test_an_aircraft_with_nothing_open_is_free_to_fly_without_reasons():
    status = operating_status([], [], [], NOW)
    assert (status.state, status.reasons, status.headline()) == (FREE, (), "free to fly")


@pytest.mark.parametrize(
    ("open_item", "reliefs", "expected"),
    [
        (item(Consequence.AIRWORTHINESS), [], GROUNDED),
        (item(Consequence.AIRWORTHINESS), [relief(covers=Consequence.AIRWORTHINESS)], GROUNDED),
        (item(Consequence.AIRWORTHINESS, is_defect=True), [relief(covers=Consequence.AIRWORTHINESS)], FREE),
        (item(Consequence.ICING), [relief(covers=Consequence.AIRWORTHINESS)], GROUNDED),
        (item(Consequence.ICING, by_when=ByWhen.NEXT_FLIGHT), [relief()], GROUNDED),
        (item(Consequence.ICING), [relief(task_ids=frozenset({1}))], ICING),
        (item(Consequence.ICING), [relief(task_ids=frozenset({2}))], GROUNDED),
        (item(Consequence.ICING, by_when=ByWhen.WITHIN_DAYS), [], FREE),
        (item(Consequence.ICING, by_when=ByWhen.WITHIN_DAYS, is_past_limit=True), [], GROUNDED),
        (item(Consequence.ICING, by_when=ByWhen.NONE, is_defect=True), [], GROUNDED),
        (item(Consequence.OPERATION), [], FREE),
        (item(Consequence.NONE), [], FREE),
        (item(Consequence.NONE, state=TaskState.IN_WORK), [], GROUNDED),
    ],
)
def test_an_open_item_acts_by_its_consequence_and_its_limit(open_item, reliefs, expected):
    assert state([open_item], reliefs) == expected


def test_a_restriction_says_when_it_turns_into_no_flight():
    status = operating_status([item()], [relief(48)], [], NOW)
    assert status.worsens_at == datetime(2026, 1, 22, 12, 0, tzinfo=UTC)
    assert [reason.words for reason in status.reasons] == [
        "Relief 30-12-1 runs until 22 Jan 2026 12:00 UTC: no flight into known or forecast icing.",
        "Panel flow test is open under relief 30-12-1: no flight into known or forecast icing.",
    ]


def test_relief_that_has_not_begun_covers_nothing():
    coming = ReliefFacts(9, "30-12-1", Consequence.ICING, NOW + timedelta(hours=1), NOW + timedelta(days=9))
    assert state([item()], [coming]) == GROUNDED


def test_open_relief_restricts_even_when_no_task_is_open():
    assert state([], [relief()]) == ICING


def test_a_second_relief_that_ended_grounds_although_the_first_runs():
    status = operating_status([item()], [relief(48), relief(-1)], [], NOW)
    assert (status.state, status.worsens_at) == (GROUNDED, None)
    assert status.reasons[0].code is ReasonCode.RELIEF_EXPIRED


def test_the_worst_reason_stands_first_and_points_to_its_task():
    status = operating_status(
        [
            item(),
            OpenItem(2, "Propeller check", Consequence.AIRWORTHINESS, TaskState.RAISED, ByWhen.NEXT_FLIGHT),
        ],
        [relief()],
        [],
        NOW,
    )
    assert (status.reasons[0].task_id, status.reasons[0].state) == (2, GROUNDED)
    assert len(status.reasons) == 3


@pytest.mark.parametrize(
    ("consequence", "reliefs", "expected"),
    [
        (Consequence.AIRWORTHINESS, [], GROUNDED),
        (Consequence.ICING, [], GROUNDED),
        (Consequence.ICING, [relief()], ICING),
        (Consequence.OPERATION, [], FREE),
        (Consequence.NONE, [], FREE),
    ],
)
def test_an_overdue_item_acts_by_its_consequence(consequence, reliefs, expected):
    assert (
        state(overdue=[OverdueItem(5, "Annual flow test", consequence, "12 days")], reliefs=reliefs)
        == expected
    )


def test_an_overdue_reason_says_by_how_much():
    status = operating_status(
        [], [], [OverdueItem(5, "Annual check", Consequence.AIRWORTHINESS, "12 days")], NOW
    )
    assert status.reasons[0].words == "Annual check is overdue (12 days): no flight before it is done."
    assert status.reasons[0].due_id == 5


def test_a_task_that_waits_names_what_must_be_closed_first():
    assert start_refusal("Panel flow test", ["Panel purge"]) == (
        "Panel flow test cannot start: Panel purge must be closed first."
    )
    assert start_refusal("Panel purge", []) == ""


OPEN_ITEMS = st.builds(
    OpenItem,
    st.integers(1, 5),
    st.just("Work"),
    st.sampled_from(Consequence),
    st.sampled_from([TaskState.RAISED, TaskState.PLANNED, TaskState.IN_WORK, TaskState.AWAITING_SIGNATURE]),
    st.sampled_from(ByWhen),
    st.booleans(),
    st.booleans(),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(OPEN_ITEMS, max_size=4), OPEN_ITEMS, st.integers(-5, 5))
def test_one_more_open_item_never_makes_the_status_better(items, further, hours_left):
    order = list(FlightState)
    before, after = state(items, [relief(hours_left)]), state([*items, further], [relief(hours_left)])
    assert order.index(after) >= order.index(before)
