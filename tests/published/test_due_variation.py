"""Permitted variations: bands, the step at 500, and what may never be varied."""

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from scheduling.due.engine import due_of
from scheduling.due.terms import Amount, AmountUnit, DueStatus, Facts, Limit, Mark, Measure, Since, Variation
from scheduling.due.variation import (
    Protection,
    VariationRefused,
    VariationRequest,
    VariationTable,
    grant_variation,
    table_from_data,
    variation_for,
)

pytestmark = pytest.mark.published

RULES = Path(__file__).parents[2] / "fixtures" / "rules" / "permitted_variations.json"
TABLE = replace(table_from_data(json.loads(RULES.read_text())), approval="Approval 12/2026")
H = 60
MONTHS = AmountUnit.MONTHS


@pytest.mark.parametrize(
    ("limit", "allowed"),
    [
        (Limit(Measure.HOURS, 100 * H), Amount(10 * H)),
        (Limit(Measure.HOURS, 5000 * H), Amount(500 * H)),
        (Limit(Measure.HOURS, 6000 * H), Amount(500 * H)),
        (Limit(Measure.MONTHS, 6), Amount(18)),
        (Limit(Measure.MONTHS, 12), Amount(1, MONTHS)),
        (Limit(Measure.MONTHS, 24), Amount(2, MONTHS)),
        (Limit(Measure.MONTHS, 36), Amount(2, MONTHS)),
        (Limit(Measure.MONTHS, 48), Amount(3, MONTHS)),
        (Limit(Measure.LANDINGS, 200), Amount(20)),
        (Limit(Measure.LANDINGS, 250), Amount(25)),
        (Limit(Measure.LANDINGS, 500), Amount(25)),
        (Limit(Measure.LANDINGS, 501), Amount(50)),
        (Limit(Measure.LANDINGS, 600), Amount(60)),
        (Limit(Measure.LANDINGS, 8000), Amount(500)),
    ],
)
def test_the_table_gives_its_worked_values_with_the_step_at_five_hundred(
    limit: Limit, allowed: Amount
) -> None:
    """CAP 411 light aircraft schedule and successors, Irish AAM 01: figures from memory."""
    assert variation_for(limit, TABLE) == allowed


def test_the_hours_band_of_ten_per_cent_ends_at_five_hundred_flight_hours() -> None:
    """Netherlands authority leaflet replacing NL-2011-001: hours 10 %, at most 500 flight hours."""
    table = table_from_data(
        {
            "name": "NL",
            "source": "Netherlands authority leaflet replacing NL-2011-001",
            "approval": "x",
            "bands": [{"measure": "hours", "percent": "10", "cap": "500:00"}],
        }
    )
    assert variation_for(Limit(Measure.HOURS, 4000 * H), table) == Amount(400 * H)
    assert variation_for(Limit(Measure.HOURS, 9000 * H), table) == Amount(500 * H)


@pytest.mark.parametrize("protection", [Protection.DIRECTIVE, Protection.LIMITATION, Protection.SAFETY])
def test_directives_limitations_and_safety_cases_are_never_varied(protection: Protection) -> None:
    """Netherlands leaflet: not on directives, limitations, or where safety could suffer."""
    with pytest.raises(VariationRefused) as refusal:
        variation_for(Limit(Measure.HOURS, 100 * H), TABLE, protection)
    assert refusal.value.code == "never_varied"
    assert refusal.value.problems == (("protection", protection.value, "do it when it is due"),)


def test_a_directive_that_allows_it_may_be_varied() -> None:
    """Netherlands leaflet: "unless the directive says so"."""
    limit = Limit(Measure.HOURS, 100 * H)
    assert variation_for(limit, TABLE, Protection.DIRECTIVE_ALLOWING) == Amount(600)


def test_a_task_for_which_the_programme_is_silent_has_no_variation() -> None:
    """Netherlands leaflet."""
    with pytest.raises(VariationRefused) as refusal:
        variation_for(Limit(Measure.USES, 100), TABLE)
    assert refusal.value.code == "no_band"


@pytest.mark.parametrize("table", [None, replace(TABLE, approval=" ")])
def test_a_table_that_nobody_approved_allows_nothing(table: VariationTable | None) -> None:
    """AMC M.A.302: the authority approves the permitted variations of the programme."""
    with pytest.raises(VariationRefused) as refusal:
        variation_for(Limit(Measure.HOURS, 100 * H), table)
    assert refusal.value.code == "no_approved_table"


def test_the_design_holders_limit_prevails() -> None:
    """Netherlands leaflet: design-holder limits prevail."""
    assert variation_for(Limit(Measure.HOURS, 100 * H), TABLE, design_cap=Amount(300)) == Amount(300)


def facts_at(hours: int, *granted: Variation) -> Facts:
    day = date(2026, 3, 2)
    last = Mark(date(2025, 9, 1), {"hours": 1200 * H})
    return Facts(day, Mark(day, {"hours": hours}), {Since.LAST_DONE: last}, variations=granted)


HUNDRED = Limit(Measure.HOURS, 100 * H)
ASK = VariationRequest(Amount(10 * H), "director of maintenance", "hangar closed by snow", "V-7")


def test_a_granted_variation_moves_the_last_lawful_point_once() -> None:
    """Netherlands leaflet: one aircraft, one occasion."""
    granted = grant_variation(due_of(HUNDRED, facts_at(1290 * H)).limits[0], ASK, TABLE)
    varied = due_of(HUNDRED, facts_at(1309 * H, granted))
    assert varied.status is DueStatus.DUE
    assert varied.limits[0].allowed_to == 1310 * H
    with pytest.raises(VariationRefused) as refusal:
        grant_variation(varied.limits[0], ASK, TABLE)
    assert refusal.value.code == "granted_before"


def test_a_variation_does_not_reach_the_due_after_the_one_it_was_granted_for() -> None:
    """Netherlands leaflet: one occasion."""
    granted = grant_variation(due_of(HUNDRED, facts_at(1290 * H)).limits[0], ASK, TABLE)
    later = facts_at(1405 * H, granted)
    later = replace(later, marks={Since.LAST_DONE: Mark(date(2026, 3, 1), {"hours": 1300 * H})})
    assert due_of(HUNDRED, later).status is DueStatus.OVERDUE


def test_an_aircraft_past_interval_and_variation_is_not_to_be_flown() -> None:
    """Netherlands directive, GM 2."""
    granted = grant_variation(due_of(HUNDRED, facts_at(1290 * H)).limits[0], ASK, TABLE)
    past = due_of(HUNDRED, facts_at(1310 * H + 1, granted))
    assert past.status is DueStatus.OVERDUE
    assert "Past the last lawful point: not to be flown or used until it is done." in past.explanation
