"""What the trend of an aircraft says after sealed tests, and what an alarm sets off."""

from fractions import Fraction

import pytest

from fleet.common.actor import Role
from fleet.common.errors import NotFound
from records.gather.series import current_content, watched_of
from records.gather.trending import trend_of
from records.models import TrendState
from records.selectors.trends import TrendQuery, lines_of, trend_for, trend_states
from records.services.trends import refresh_every_trend
from scheduling.models import Event, ProcedureVersion
from scheduling.services.tasks import WantedTask, raise_task
from tests.makers import at, make_house
from tests.records.makers import FLOW_TEST, Workshop, make_workshop

pytestmark = pytest.mark.django_db
GOOD = [
    ("1500", "1510"),
    ("1515", "1495"),
    ("1490", "1505"),
    ("1505", "1500"),
    ("1495", "1515"),
    ("1510", "1490"),
]


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    shop.do_purge(at(0, 1))
    return shop


def run_tests(shop: Workshop, readings: list[tuple[str, str]], first: int = 0) -> None:
    """Sealed flow tests a week apart; each is its own task, wanted by an inspection line."""
    for week, (left, right) in enumerate(readings, first):
        if not shop.aircraft.tasks.filter(procedure__code="panel-flow-test", state="raised").exists():
            wanted = WantedTask(shop.aircraft.pk, "panel-flow-test", "Panel flow test", "weekly")
            raise_task(actor=shop.house.actor(Role.DIRECTOR), wanted=wanted)
        shop.do_flow_test(at(7 * week, 3), left, right)


def states(shop: Workshop) -> dict[str, str]:
    rows = TrendState.objects.filter(aircraft=shop.aircraft)
    return {row.channel: row.state for row in rows}


def test_before_six_tests_a_baseline_forms(shop: Workshop) -> None:
    run_tests(shop, GOOD[:3])
    assert states(shop) == {"together": "baseline_forming", "balance": "baseline_forming"}
    words = TrendState.objects.get(channel="together").words
    assert "3 of 6 valid tests for the baseline" in words


def test_steady_flow_is_in_control_and_reports_nothing(shop: Workshop) -> None:
    run_tests(shop, [*GOOD, ("1505", "1505"), ("1495", "1500")])
    assert states(shop) == {"together": "in_control", "balance": "in_control"}
    assert Event.objects.filter(kind__code="trend-alarm").count() == 0


def test_a_falling_side_within_its_limits_alarms_once(shop: Workshop) -> None:
    run_tests(shop, [*GOOD, ("1400", "1590"), ("1380", "1600")])
    assert states(shop)["balance"] == "alarm_low"
    event = Event.objects.get(kind__code="trend-alarm")
    state = TrendState.objects.get(channel="balance")
    assert state.alarmed_run is not None
    assert event.detail["run"] == state.alarmed_run_id
    assert event.reported_by_name == "system: trends"
    assert state.alarmed_run.verdict == "pass"
    refresh_every_trend(operator_id=shop.house.operator.pk)
    assert Event.objects.filter(kind__code="trend-alarm").count() == 1


def test_an_alarm_lists_every_cause_it_is_consistent_with(shop: Workshop) -> None:
    run_tests(shop, [*GOOD, ("1400", "1590")])
    trend = trend_for(shop.technician, shop.aircraft.registration, "panel-flow-test", "flow-left")
    assert trend.indication is not None
    assert trend.indication.pattern.value == "one_side_restricted"
    assert any("left supply line" in cause for cause in trend.indication.consistent_with)


def test_a_weak_pump_lowers_both_sides_and_alarms_together(shop: Workshop) -> None:
    run_tests(shop, [*GOOD, ("1420", "1425")])
    assert states(shop)["together"] == "alarm_low"


def test_an_alarm_that_the_next_test_does_not_confirm_no_longer_stands(shop: Workshop) -> None:
    run_tests(shop, [*GOOD, ("1420", "1425"), ("1500", "1505")])
    assert states(shop)["together"] == "in_control"
    words = TrendState.objects.get(channel="together").words
    assert "The next test did not confirm the alarm of" in words


def test_an_invalid_run_leaves_the_count_of_tests_alone(shop: Workshop) -> None:
    run_tests(shop, GOOD[:2])
    wanted = WantedTask(shop.aircraft.pk, "panel-flow-test", "Panel flow test", "weekly")
    raise_task(actor=shop.house.actor(Role.DIRECTOR), wanted=wanted)
    shop.do_flow_test(at(30, 3), "1300", "1600", "27.0")
    trend = trend_for(shop.technician, shop.aircraft.registration, "panel-flow-test", "flow-difference")
    assert (len(trend.tests), trend.channels[0].verdict and trend.channels[0].verdict.tests) == (3, 2)
    assert [mark.is_charted for mark in lines_of(trend)[0].readings] == [True, True, False]


def test_an_event_that_restarts_the_baseline_begins_again(shop: Workshop) -> None:
    run_tests(shop, [*GOOD, ("1420", "1425")])
    shop.report("line-opened", at(60))
    shop.do_purge(at(60, 1))
    shop.do_flow_test(at(60, 3), "1420", "1425")
    assert states(shop)["together"] == "baseline_forming"
    assert "counted since fluid line opened" in TrendState.objects.get(channel="together").words


def test_another_way_of_testing_begins_again(shop: Workshop) -> None:
    run_tests(shop, GOOD)
    version = ProcedureVersion.objects.get(procedure__code="panel-flow-test")
    ProcedureVersion.objects.filter(pk=version.pk).update(state="superseded")
    steps = [dict(step) for step in FLOW_TEST["steps"]]
    for step in steps:
        if step["key"] == "run":
            step["seconds"], step["tolerance_seconds"] = "250", "24"
    ProcedureVersion.objects.create(
        procedure=version.procedure,
        number=2,
        state="current",
        content={**FLOW_TEST, "steps": steps},
        approved_reference="Work instruction 30-102",
        approved_revision="4",
        ata="30-10",
        consequence="icing",
        minutes=90,
        needs_countersignature=True,
        written_at=at(40),
    )
    run_tests(shop, [("1500", "1500")], first=8)
    assert "another way of testing" in TrendState.objects.get(channel="together").words
    assert states(shop)["together"] == "baseline_forming"


def test_a_new_wording_of_the_procedure_keeps_the_baseline(shop: Workshop) -> None:
    run_tests(shop, GOOD)
    version = ProcedureVersion.objects.get(procedure__code="panel-flow-test")
    ProcedureVersion.objects.filter(pk=version.pk).update(state="superseded")
    ProcedureVersion.objects.create(
        procedure=version.procedure,
        number=2,
        state="current",
        content={**FLOW_TEST, "purpose": "Measure what each side gives."},
        approved_reference="Work instruction 30-102",
        approved_revision="4",
        ata="30-10",
        consequence="icing",
        minutes=90,
        needs_countersignature=True,
        written_at=at(40),
    )
    run_tests(shop, [("1500", "1500")], first=8)
    assert states(shop)["together"] == "in_control"


def test_readings_are_scaled_and_charted_in_the_points_unit(shop: Workshop) -> None:
    run_tests(shop, [("1500", "1530")])
    content = current_content(shop.house.operator.pk, "panel-flow-test")
    assert content is not None
    trend = trend_of(shop.aircraft, "panel-flow-test", watched_of(content)[0])
    reading = trend.tests[0].readings["flow-right"]
    assert (reading.value, reading.percent) == (Fraction(1530), 102.0)
    line = lines_of(trend)[1]
    assert (line.low, line.high, line.unit, line.readings[0].written) == (1250.0, 1950.0, "mL", "1530")


def test_a_stranger_finds_no_trend(shop: Workshop) -> None:
    run_tests(shop, GOOD[:1])
    stranger = make_house().actor(Role.DIRECTOR)
    with pytest.raises(NotFound):
        trend_for(stranger, shop.aircraft.registration, "panel-flow-test", "flow-left")
    assert trend_states(stranger).count() == 0
    assert trend_states(shop.technician).count() == 2
    assert trend_states(shop.technician, TrendQuery(only_alarms=True)).count() == 0


def test_an_operator_without_the_kind_of_event_still_sees_the_alarm(shop: Workshop) -> None:
    shop.house.operator.event_kinds.filter(code="trend-alarm").update(retired_on=at().date())
    run_tests(shop, [*GOOD, ("1400", "1590")])
    assert states(shop)["balance"] == "alarm_low"
    assert Event.objects.filter(kind__code="trend-alarm").count() == 0
