"""The invented operator without its past: every procedure, rule and requirement of the demonstration."""

from __future__ import annotations

import pytest

from records.management.demo.hangar import build_types, register_aircraft
from records.management.demo.house import employ_people, found_operator
from records.management.demo.programme import write_programme
from records.management.demo.scenario import Scenario
from records.management.demo.stock import stock_up
from scheduling.models import Applicability, DueFact
from tests.journeys.crew import Crew


@pytest.fixture
def crew(db: None) -> Crew:
    """People of the operator at their API clients."""
    scenario: Scenario = found_operator()
    logins = employ_people(scenario)
    build_types(scenario)
    register_aircraft(scenario)
    stock_up(scenario)
    write_programme(scenario)
    # Nothing was ever recorded as done here: the programme itself would ground the fleet.
    Applicability.objects.update(is_active=False)
    DueFact.objects.all().delete()
    return Crew(scenario, {login.username: login.password for login in logins})
