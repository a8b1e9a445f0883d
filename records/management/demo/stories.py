"""What each aircraft is in the middle of on the day of loading, told through the product's own services."""

from __future__ import annotations

from datetime import datetime, time

from fleet.common.clock import frozen
from fleet.services.configuration import NewComponent
from records.management.demo.doing import Doing, do
from records.management.demo.entries import Flow
from records.management.demo.scenario import Scenario
from records.services.trends import refresh_every_trend
from scheduling.models import OPEN_STATES, Applicability, Before, Task
from scheduling.services.applicability import apply_requirement
from scheduling.services.due import raise_due_tasks, refresh_due
from scheduling.services.events import EventReport, report_event
from scheduling.services.measured_use import measure_use
from scheduling.services.relief import NewRelief, grant_relief
from scheduling.services.tasks import WantedTask, assign_task, raise_task


def bring_up_to_date(scenario: Scenario) -> None:
    """What the nightly jobs would have left: rates of use, the due list, trends and the work all that calls for."""
    for requirement in ("pump-overhaul", "panel-life"):
        apply_requirement(actor=scenario.actor("edda"), code=requirement)
    measure_use(scenario.today, operator_id=scenario.operator.pk)
    refresh_due()
    refresh_every_trend(operator_id=scenario.operator.pk)
    raise_due_tasks(actor=scenario.actor("edda"))


def tell_stories(scenario: Scenario) -> None:
    """The stories of the demonstration fleet, the oldest first."""
    _line_open_under_relief(scenario)
    _tank_refitted(scenario)
    _panel_replaced(scenario)
    _test_failed(scenario)
    _trends_followed_up(scenario)
    _annual_inspection_begun(scenario)
    for registration, procedure, username in (
        ("QX-SKC", "panel-purge", "runa"),
        ("QX-SKK", "low-flow-investigation", "runa"),
        ("QX-SKE", "propeller-slinger-check", "jory"),
    ):
        _assign(scenario, registration, procedure, username)


def _moment(scenario: Scenario, registration: str, days_ago: int, hour: int, minute: int = 0) -> datetime:
    return scenario.at(days_ago, time(hour, minute), scenario.aircraft[registration].base.zone)


def _open_task(scenario: Scenario, registration: str, procedure: str) -> Task:
    return Task.objects.select_related("aircraft__base", "procedure").get(
        aircraft=scenario.aircraft[registration], procedure__code=procedure, state__in=OPEN_STATES
    )


def _line_open_under_relief(scenario: Scenario) -> None:
    """Until the hangar has room, the aircraft flies outside icing under category C."""
    at = _moment(scenario, "QX-SKG", 3, 15, 20)
    _report(
        scenario, "milo", EventReport(scenario.aircraft["QX-SKG"].pk, "line-opened", at, "demo-line-opened")
    )
    granted_at = _moment(scenario, "QX-SKG", 3, 16, 30)
    with frozen(granted_at):
        grant_relief(
            actor=scenario.actor("marit"),
            grant=NewRelief(
                aircraft_id=scenario.aircraft["QX-SKG"].pk,
                category="C",
                item="30-10-1 Fluid ice protection",
                reference="Skerry MEL revision 4",
                recorded_at=granted_at,
            ),
        )


def _tank_refitted(scenario: Scenario) -> None:
    """Out for a seal, back in; its check is signed, purge and flow test are still to come."""
    report = EventReport(
        aircraft_id=scenario.aircraft["QX-SKC"].pk,
        kind_code="tank-refitted",
        at=_moment(scenario, "QX-SKC", 2, 8, 40),
        key="demo-tank-refitted",
        position_code="fluid-tank",
        note="Out for a new sender seal.",
    )
    _report(scenario, "runa", report)
    task = _open_task(scenario, "QX-SKC", "tank-refit-check")
    do(scenario, Doing(task, "runa", _moment(scenario, "QX-SKC", 2, 10)))


def _panel_replaced(scenario: Scenario) -> None:
    """Yesterday afternoon; the purge comes first, the flow test waits for it."""
    report = EventReport(
        aircraft_id=scenario.aircraft["QX-SKB"].pk,
        kind_code="panel-replaced",
        at=_moment(scenario, "QX-SKB", 1, 14, 10),
        key="demo-panel-replaced",
        position_code="wing-right-mid",
        new_component=NewComponent(
            kind_code="",
            part_number="NP-P-WING-RIGHT-MID",
            serial_number="NP733",
            manufactured_on=scenario.day(140),
            release_document="SK-REL-7044",
        ),
        note="Bird strike, porous face torn over 40 mm.",
    )
    _report(scenario, "milo", report)


def _test_failed(scenario: Scenario) -> None:
    """Yesterday's routine test: the right side is below its limit; it is signed as it is and calls for more work."""
    at = _moment(scenario, "QX-SKK", 1, 8, 50)
    item = Applicability.objects.get(aircraft=scenario.aircraft["QX-SKK"], code="flow-test-season")
    with frozen(at):
        task, _ = raise_task(
            actor=scenario.actor("edda"),
            wanted=WantedTask(
                aircraft_id=scenario.aircraft["QX-SKK"].pk,
                procedure_code="panel-flow-test",
                title="Panel flow test",
                why="the seven-weekly test of the icing season",
                before=Before.WITHIN_DAYS,
                latest_day=scenario.day(-7),
                applicability_id=item.pk,
            ),
        )
    begin = _moment(scenario, "QX-SKK", 1, 10, 15)
    do(scenario, Doing(_fresh(task), "runa", begin, "corin", Flow(97.1, 78.6)))


def _trends_followed_up(scenario: Scenario) -> None:
    """Both alarms are looked into before a limit is crossed."""
    for registration, why in (
        ("QX-SKA", "trend alarm: the left side has fallen for months, the right has not"),
        ("QX-SKF", "trend alarm: both sides have fallen together for months"),
    ):
        with frozen(_moment(scenario, registration, 1, 9, 30)):
            raise_task(
                actor=scenario.actor("edda"),
                wanted=WantedTask(
                    aircraft_id=scenario.aircraft[registration].pk,
                    procedure_code="low-flow-investigation",
                    title="Low flow investigation",
                    why=why,
                    before=Before.WITHIN_DAYS,
                    latest_day=scenario.day(-20),
                ),
            )


def _annual_inspection_begun(scenario: Scenario) -> None:
    """Overdue, on the ground, and put aside for the night after its first two steps."""
    task = _open_task(scenario, "QX-SKD", "annual-inspection")
    do(scenario, Doing(task, "runa", _moment(scenario, "QX-SKD", 1, 13), steps=2))


def _report(scenario: Scenario, username: str, report: EventReport) -> None:
    with frozen(report.at):
        report_event(actor=scenario.actor(username), report=report)


def _assign(scenario: Scenario, registration: str, procedure: str, username: str) -> None:
    task = _open_task(scenario, registration, procedure)
    assign_task(actor=scenario.actor("edda"), task_id=task.pk, person_id=scenario.people[username].pk)


def _fresh(task: Task) -> Task:
    return Task.objects.select_related("aircraft__base", "procedure").get(pk=task.pk)
