"""Operating consequences of inoperative ice protection, as the regulations state them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from scheduling.status import (
    ByWhen,
    Consequence,
    FlightRules,
    FlightState,
    Icing,
    OpenItem,
    OverdueItem,
    ReasonCode,
    ReliefFacts,
    Ruling,
    icing_rule,
    may_fly,
    operating_status,
    start_refusal,
)
from scheduling.triggers.terms import TaskState

pytestmark = pytest.mark.published

NOW = datetime(2026, 1, 27, 12, 0, tzinfo=UTC)
FREE, ICING, GROUNDED = FlightState.FREE_TO_FLY, FlightState.RESTRICTED_ICING, FlightState.NOT_RELEASABLE
IFR, VFR = FlightRules.IFR, FlightRules.VFR
CATEGORY_B = ReliefFacts(
    1,
    "30-12-1",
    Consequence.ICING,
    datetime(2026, 1, 26, 10, 0, tzinfo=UTC),
    datetime(2026, 1, 30, 0, 0, tzinfo=UTC),
)


def icing_item(title="Panel flow test", state=TaskState.RAISED, by_when=ByWhen.NEXT_ICING_FLIGHT, **more):
    return OpenItem(title, title, Consequence.ICING, state, by_when, **more)


def status(items, reliefs=(), overdue=(), now=NOW):
    return operating_status(items, reliefs, overdue, now)


@pytest.mark.parametrize(
    ("rules", "icing", "ruling"),
    [
        (IFR, Icing.FORECAST, Ruling.FORBIDDEN),
        (IFR, Icing.KNOWN, Ruling.FORBIDDEN),
        (VFR, Icing.KNOWN, Ruling.FORBIDDEN),
        (VFR, Icing.FORECAST, Ruling.SILENT),
        (IFR, Icing.NONE, Ruling.ALLOWED),
        (VFR, Icing.NONE, Ruling.ALLOWED),
    ],
)
def test_the_equipment_rule_with_ice_protection_inoperative(rules, icing, ruling):
    """14 CFR 91.527(b); 135.227(c),(d) mirrors it for part 135 (paragraphs (c) to (f) from memory)."""
    assert icing_rule(is_functioning=False, rules=rules, icing=icing) is ruling


@pytest.mark.parametrize("rules", list(FlightRules))
@pytest.mark.parametrize("icing", list(Icing))
def test_the_equipment_rule_asks_nothing_while_ice_protection_functions(rules, icing):
    """14 CFR 91.527(b): unless de- or anti-icing is functioning."""
    assert icing_rule(is_functioning=True, rules=rules, icing=icing) is Ruling.ALLOWED


@pytest.mark.parametrize(
    ("rules", "icing", "free", "restricted", "grounded"),
    [
        (IFR, Icing.NONE, True, True, False),
        (IFR, Icing.FORECAST, True, False, False),
        (IFR, Icing.KNOWN, True, False, False),
        (VFR, Icing.NONE, True, True, False),
        (VFR, Icing.FORECAST, True, False, False),
        (VFR, Icing.KNOWN, True, False, False),
    ],
)
def test_the_status_answers_the_truth_table(rules, icing, free, restricted, grounded):
    """14 CFR 91.527(b) and 91.213(a); VFR into forecast icing is refused by the relief only."""
    answers = (
        may_fly(status([]), rules, icing).allowed,
        may_fly(status([icing_item()], [CATEGORY_B]), rules, icing).allowed,
        may_fly(status([icing_item()]), rules, icing).allowed,
    )
    assert answers == (free, restricted, grounded)


def test_inoperative_equipment_without_approved_relief_is_not_releasable():
    """14 CFR 91.213(a), (d): the relief without an MEL covers non-turbine small aircraft only."""
    found = status([icing_item()])
    assert (found.state, found.reasons[0].code) == (GROUNDED, ReasonCode.OPEN_WITHOUT_RELIEF)


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        (datetime(2026, 1, 26, 10, 0, tzinfo=UTC), ICING),
        (datetime(2026, 1, 29, 23, 59, 59, tzinfo=UTC), ICING),
        (datetime(2026, 1, 30, 0, 0, tzinfo=UTC), GROUNDED),
    ],
)
def test_a_category_b_relief_recorded_on_26_january_ends_at_midnight_ending_the_29th(now, expected):
    """FAA MMEL policy letter PL-25, repair intervals: the published example for category B."""
    assert status([icing_item()], [CATEGORY_B], now=now).state is expected


def test_work_done_but_not_entered_is_not_airworthy():
    """14 CFR 91.407(a) (from memory): not before approval for return to service and the record entry."""
    found = status([icing_item(state=TaskState.AWAITING_SIGNATURE)], [CATEGORY_B])
    assert (found.state, found.reasons[0].code) == (GROUNDED, ReasonCode.AWAITING_ENTRY)


def test_interrupted_work_is_closed_off_before_release():
    """14 CFR 135.427(b)(9)."""
    found = status([icing_item(state=TaskState.IN_WORK)], [CATEGORY_B])
    assert (found.state, found.reasons[0].code) == (GROUNDED, ReasonCode.WORK_BEGUN)


def test_an_aircraft_is_not_flown_with_a_task_past_interval_and_variation():
    """Netherlands directive on permitted variations, GM 2."""
    assert status([], overdue=[OverdueItem(1, "Inspection", Consequence.AIRWORTHINESS)]).state is GROUNDED


def test_a_signature_covers_only_the_work_of_its_entry():
    """14 CFR 43.9(a), last sentence: the signed panel replacement leaves the flow test open."""
    assert status([icing_item("Panel flow test")], [CATEGORY_B]).state is ICING


PURGE, TEST = "Panel purge", "Panel flow test"


@pytest.mark.parametrize(
    ("open_work", "expected"),
    [
        ({PURGE: TaskState.RAISED, TEST: TaskState.RAISED}, ICING),
        ({TEST: TaskState.RAISED}, ICING),
        ({TEST: TaskState.RAISED, "Defect: flow below limit": TaskState.RAISED}, ICING),
        ({TEST: TaskState.AWAITING_SIGNATURE}, GROUNDED),
        ({}, FREE),
    ],
    ids=["raised", "purge signed", "test failed", "test passed unsigned", "test passed and signed"],
)
def test_the_life_of_a_restriction_after_a_panel_replacement(open_work, expected):
    """Derived from 14 CFR 43.9(a), 91.407(a) and 91.213(a); the relief is closed with the last item."""
    items = [icing_item(title, state, is_defect="Defect" in title) for title, state in open_work.items()]
    assert status(items, [CATEGORY_B] if items else []).state is expected


def test_the_flow_test_is_refused_before_its_purge_is_closed():
    """Derived from 14 CFR 43.9(a): each entry approves its own work only, so order is kept by refusal."""
    assert start_refusal(TEST, [PURGE]) == "Panel flow test cannot start: Panel purge must be closed first."


def test_a_failed_test_keeps_the_aircraft_grounded_without_relief():
    """14 CFR 91.213(a): the failed test stays open and a defect stands beside it."""
    later = NOW + timedelta(hours=1)
    found = status([icing_item(), icing_item("Defect: flow below limit", is_defect=True)], now=later)
    assert (found.state, len(found.reasons)) == (GROUNDED, 2)
