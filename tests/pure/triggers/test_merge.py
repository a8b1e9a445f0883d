"""Merging demands with the work already open or done."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.triggers.match import match
from scheduling.triggers.merge import Cause, ClosedFacts, Join, OpenTaskFacts, Raise, TaskRef, merge
from scheduling.triggers.terms import Before, BeforeKind, EventFacts, RaiseFacts, RuleFacts, TaskState, Where
from tests.words import plain

PURGE = RaiseFacts(1, "PURGE", "Panel purge", Before(BeforeKind.NEXT_TASK))
FLOW = RaiseFacts(2, "FLOW", "Panel flow test", Before(BeforeKind.NEXT_ICING_FLIGHT))
PANEL = RuleFacts("r1", "panel", 1, "panel_replaced", Where(), (PURGE, FLOW))
TANK = RuleFacts(
    "r2",
    "tank",
    1,
    "tank_refitted",
    Where(),
    (PURGE, RaiseFacts(2, "FLOW", "Panel flow test", Before(BeforeKind.NEXT_FLIGHT))),
)


def at(hour):
    return datetime(2026, 3, 14, hour, tzinfo=UTC)


def happened(identity, hour, kind="panel_replaced", aircraft="QX-SKA"):
    return EventFacts(identity, kind, at(hour), aircraft)


def demands(*events):
    return [demand for event in events for demand in match(event, [PANEL, TANK])]


def open_task(identity, code, *, causes=(), waits_for=(), started=None, state=TaskState.RAISED):
    return OpenTaskFacts(
        identity, code, "QX-SKA", state, at(8), started, frozenset(causes), frozenset(waits_for)
    )


def done(code, started, closed, causes=(), was_done=True):
    return ClosedFacts(code, "QX-SKA", at(closed), at(started), frozenset(causes), was_done)


E1, E2 = Cause("e1", "r1"), Cause("e2", "r2")


def kinds(merged):
    return [(type(action).__name__, action.procedure_code) for action in merged.actions]


def test_one_event_raises_purge_and_flow_test_and_the_test_waits():
    merged = merge(demands(happened("e1", 8)), [])
    assert kinds(merged) == [("Raise", "PURGE"), ("Raise", "FLOW")]
    (block,) = merged.blocks
    assert (block.waiting, block.first) == (TaskRef(None, "FLOW"), TaskRef(None, "PURGE"))
    assert block.words == "FLOW cannot start before PURGE is closed."


def test_two_events_at_once_raise_one_purge_and_one_test_that_name_both():
    merged = merge(demands(happened("e1", 8), happened("e2", 9, "tank_refitted")), [])
    assert kinds(merged) == [("Raise", "PURGE"), ("Raise", "FLOW")]
    assert all(action.causes == (E1, E2) and len(action.reasons) == 2 for action in merged.actions)
    assert len(merged.blocks) == 1


def test_the_strictest_limit_of_several_causes_leads():
    flow = merge(demands(happened("e1", 8), happened("e2", 9, "tank_refitted")), []).actions[1]
    assert isinstance(flow, Raise)
    assert flow.before == Before(BeforeKind.NEXT_FLIGHT)
    assert [b.kind for b in flow.befores] == ["next_flight", "next_icing_flight"]


def test_a_second_event_before_the_purge_joins_both_open_tasks():
    tasks = [open_task(1, "PURGE", causes=[E1]), open_task(2, "FLOW", causes=[E1], waits_for=[1])]
    merged = merge(demands(happened("e2", 9, "tank_refitted")), tasks)
    assert kinds(merged) == [("Join", "PURGE"), ("Join", "FLOW")]
    assert [action.repeat for action in merged.actions] == [False, False]
    assert merged.blocks == ()


def test_an_event_after_the_signed_purge_raises_it_again_and_blocks_the_test_again():
    merged = merge(
        demands(happened("e2", 12, "tank_refitted")),
        [open_task(2, "FLOW", causes=[E1])],
        [done("PURGE", 9, 10, [E1])],
    )
    assert kinds(merged) == [("Raise", "PURGE"), ("Join", "FLOW")]
    (block,) = merged.blocks
    assert (block.waiting, block.first) == (TaskRef(2, "FLOW"), TaskRef(None, "PURGE"))


def test_a_flow_test_in_work_when_a_new_event_comes_starts_again():
    task = open_task(2, "FLOW", causes=[E1], started=at(11), state=TaskState.IN_WORK)
    merged = merge(demands(happened("e2", 12, "tank_refitted")), [task], [done("PURGE", 9, 10, [E1])])
    join = merged.actions[1]
    assert isinstance(join, Join)
    assert join.repeat
    assert merged.notes == ("Panel flow test: work begun before the event does not count and starts again.",)


def test_the_same_event_again_brings_nothing_new():
    tasks = [open_task(1, "PURGE", causes=[E1]), open_task(2, "FLOW", causes=[E1], waits_for=[1])]
    merged = merge(demands(happened("e1", 8)), tasks)
    assert (merged.actions, merged.blocks, merged.notes) == ((), (), ())


def test_the_same_event_again_after_everything_is_signed_brings_nothing_new():
    closed = [done("PURGE", 9, 10, [E1]), done("FLOW", 11, 12, [E1])]
    assert merge(demands(happened("e1", 8)), [], closed).actions == ()


def test_the_same_event_does_not_bring_back_a_withdrawn_task():
    closed = [done("PURGE", 9, 10, [E1], was_done=False), done("FLOW", 11, 12, [E1], was_done=False)]
    assert merge(demands(happened("e1", 8)), [], closed).actions == ()


def test_an_event_reported_late_is_covered_by_work_begun_after_it():
    closed = [done("PURGE", 9, 10, [E1]), done("FLOW", 11, 12, [E1])]
    merged = merge(demands(happened("e2", 8, "tank_refitted")), [], closed)
    assert merged.actions == ()
    assert len(merged.notes) == 2
    assert plain(merged.notes[0]).startswith(
        "Panel purge was already done after the event. Tank refitted on 14 Mar 2026"
    )


def test_work_begun_before_a_late_event_covers_nothing_after_it_either():
    closed = [done("PURGE", 9, 11, [E1]), done("FLOW", 12, 13, [E1])]
    merged = merge(demands(happened("e2", 10, "tank_refitted")), [], closed)
    assert kinds(merged) == [("Raise", "PURGE"), ("Raise", "FLOW")]


def test_a_withdrawn_purge_covers_no_event():
    merged = merge(
        demands(happened("e2", 8, "tank_refitted")), [], [done("PURGE", 9, 10, [E1], was_done=False)]
    )
    assert kinds(merged) == [("Raise", "PURGE"), ("Raise", "FLOW")]


def test_work_whose_start_is_not_known_covers_no_event():
    closed = [ClosedFacts("PURGE", "QX-SKA", at(12), None, frozenset({E1}))]
    assert kinds(merge(demands(happened("e2", 8, "tank_refitted")), [], closed))[0] == ("Raise", "PURGE")


def test_tasks_of_other_aircraft_are_never_joined():
    other = OpenTaskFacts(1, "PURGE", "QX-SKB", TaskState.RAISED, at(8))
    assert kinds(merge(demands(happened("e1", 8)), [other])) == [("Raise", "PURGE"), ("Raise", "FLOW")]


def test_tasks_per_position_are_merged_by_position_only():
    check = RaiseFacts(1, "LINE", "Line check", Before(BeforeKind.NEXT_FLIGHT), per_position=True)
    line = RuleFacts("r5", "line", 1, "line_opened", Where(), (check,))
    events = [EventFacts(f"e{n}", "line_opened", at(8), "QX-SKA", position=p) for n, p in enumerate("aba")]
    merged = merge([demand for event in events for demand in match(event, [line])], [])
    assert [(action.scope, len(action.causes)) for action in merged.actions] == [("a", 2), ("b", 1)]


def test_rules_that_ask_for_both_orders_never_block_each_other_in_a_circle():
    swapped = RuleFacts(
        "r3",
        "swapped",
        1,
        "panel_replaced",
        Where(),
        (
            RaiseFacts(1, "FLOW", "Panel flow test", Before(BeforeKind.NEXT_TASK)),
            RaiseFacts(2, "PURGE", "Panel purge", Before(BeforeKind.NEXT_FLIGHT)),
        ),
    )
    merged = merge(match(happened("e1", 8), [PANEL, swapped]), [])
    assert [(b.waiting.procedure_code, b.first.procedure_code) for b in merged.blocks] == [("FLOW", "PURGE")]
    assert merged.notes == ("PURGE was not made to wait for FLOW: rules ask for both orders.",)


def test_three_steps_wait_one_for_the_other():
    chain = RuleFacts(
        "r4",
        "chain",
        1,
        "panel_replaced",
        Where(),
        (PURGE, FLOW, RaiseFacts(3, "INSPECT", "Inspection", Before(BeforeKind.NEXT_FLIGHT))),
    )
    merged = merge(match(happened("e1", 8), [chain]), [])
    assert [(b.waiting.procedure_code, b.first.procedure_code) for b in merged.blocks] == [
        ("FLOW", "PURGE"),
        ("INSPECT", "FLOW"),
    ]


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 23), st.sampled_from(["panel_replaced", "tank_refitted"])),
        min_size=1,
        max_size=8,
    )
)
def test_events_one_by_one_or_all_at_once_leave_the_same_open_work(reported):
    events = [happened(f"e{n}", hour, kind) for n, (hour, kind) in enumerate(reported)]
    together = merge(demands(*events), [])
    open_tasks: dict[str, OpenTaskFacts] = {}
    for event in events:
        for action in merge(demands(event), list(open_tasks.values())).actions:
            earlier = open_tasks.get(action.procedure_code)
            causes = (earlier.causes if earlier else frozenset()) | set(action.causes)
            waits = ["PURGE"] if action.procedure_code == "FLOW" else []
            open_tasks[action.procedure_code] = open_task(
                action.procedure_code, action.procedure_code, causes=causes, waits_for=waits
            )
    assert {a.procedure_code: set(a.causes) for a in together.actions} == {
        code: set(task.causes) for code, task in open_tasks.items()
    }
