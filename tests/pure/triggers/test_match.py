"""Trigger rules: what matches, what it demands and why the others did not."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from scheduling.triggers.match import dry_run, explain, match, near_misses
from scheduling.triggers.terms import Before, BeforeKind, EventFacts, RaiseFacts, RuleFacts, Where
from tests.words import plain

PURGE = RaiseFacts(
    1, "SKA-PURGE", "Panel purge", Before(BeforeKind.NEXT_TASK), "Air in the panel blocks flow."
)
FLOW = RaiseFacts(2, "SKA-FLOW", "Panel flow test", Before(BeforeKind.NEXT_ICING_FLIGHT))
POD = RaiseFacts(1, "SKA-POD", "Pod line check", Before(BeforeKind.WITHIN_DAYS, 10))


def rule(code="panel", where=None, raises=(FLOW, PURGE), kind="panel_replaced", enabled=True):
    return RuleFacts(f"r-{code}", code, 3, kind, where or Where(), raises, enabled)


def event(identity="e1", position="wing-left-outboard", options=("glass-cockpit",), kind="panel_replaced"):
    at = datetime(2026, 3, 14, 9, 30, tzinfo=UTC)
    return EventFacts(
        identity, kind, at, "QX-SKA", "Ptarmigan 300", position, "porous panel", frozenset(options)
    )


def test_a_panel_replacement_demands_purge_then_flow_test():
    demands = match(event(), [rule()])
    assert [(d.order, d.procedure_code) for d in demands] == [(1, "SKA-PURGE"), (2, "SKA-FLOW")]


def test_a_demand_says_which_event_rule_and_condition_it_comes_from():
    (purge, _) = match(event(), [rule(where=Where(positions=("wing-left",)))])
    assert plain(purge.why) == (
        "Panel replaced at wing left outboard on 14 Mar 2026: rule panel version 3 matched (the event is "
        "panel replaced; position wing-left-outboard belongs to wing-left). Air in the panel blocks flow."
    )


@pytest.mark.parametrize(
    ("position", "prefix", "matches"),
    [
        ("wing-left-outboard", "wing", True),
        ("wing-left-outboard", "wing-left", True),
        ("wing-left-outboard", "wing-left-outboard", True),
        ("wing-left-outboard", "wing-right", False),
        ("winglet-left", "wing", False),
        (None, "wing", False),
    ],
)
def test_positions_match_whole_leading_parts(position, prefix, matches):
    assert explain(event(position=position), rule(where=Where(positions=(prefix,)))).matched is matches


def test_the_nearest_miss_names_the_option_that_is_not_fitted():
    pod = rule("pod", Where(options_required=frozenset({"belly-pod"})), (POD,))
    far = rule("tail", Where(("tail",), options_required=frozenset({"belly-pod"})), (POD,))
    missed = near_misses(event(), [far, pod, rule()])
    assert [e.rule_code for e in missed] == ["pod", "tail"]
    assert missed[0].sentence() == "Rule pod did not match because option belly-pod is not fitted."
    assert missed[1].sentence() == (
        "Rule tail did not match because position wing-left-outboard does not belong to tail "
        "and option belly-pod is not fitted."
    )


def test_an_option_that_must_be_absent_keeps_a_rule_from_matching():
    explanation = explain(event(), rule(where=Where(options_absent=frozenset({"glass-cockpit"}))))
    assert explanation.sentence() == "Rule panel did not match because option glass-cockpit is fitted."


def test_aircraft_type_and_component_type_are_conditions():
    wrong = Where(component_types=frozenset({"pump"}), aircraft_types=frozenset({"Dovekie 19"}))
    assert explain(event(), rule(where=wrong)).sentence() == (
        "Rule panel did not match because component porous panel is not pump "
        "and aircraft type Ptarmigan 300 is not Dovekie 19."
    )
    right = Where(component_types=frozenset({"porous panel"}), aircraft_types=frozenset({"Ptarmigan 300"}))
    assert len(match(event(), [rule(where=right)])) == 2


def test_a_rule_switched_off_demands_nothing_and_says_so():
    off = rule(enabled=False)
    assert match(event(), [off]) == ()
    assert near_misses(event(), [off])[0].sentence() == (
        "Rule panel did not match because the rule is switched off."
    )


def test_rules_for_other_events_are_no_near_misses():
    assert near_misses(event(), [rule(kind="pump_changed")]) == ()


def test_a_dry_run_counts_demands_and_names_the_nearest_miss_of_quiet_events():
    pod_rule = rule("pod", Where(options_required=frozenset({"belly-pod"})), (POD,), enabled=False)
    run = dry_run(
        [event("e1"), event("e2", options=("belly-pod",)), event("e3", kind="pump_changed")], [pod_rule]
    )
    assert (run.events_seen, run.events_matched) == (3, 1)
    assert run.demands_by_procedure == (("SKA-POD", 1),)
    assert [line.nearest_miss for line in run.lines] == [
        "Rule pod did not match because option belly-pod is not fitted.",
        "",
        "",
    ]


def test_within_ten_days_of_the_first_of_march_ends_on_the_eleventh():
    assert Before(BeforeKind.WITHIN_DAYS, 10).last_day(date(2026, 3, 1)) == date(2026, 3, 11)
    assert Before(BeforeKind.NEXT_FLIGHT).last_day(date(2026, 3, 1)) is None
    assert Before(BeforeKind.WITHIN_DAYS, 10).words() == "within 10 days"
