"""The verdict of a run, and what a failure raises at once."""

from datetime import timedelta

import pytest

from fleet.common.actor import Role
from fleet.common.errors import Conflict, Invalid, NotAllowed
from records.models import BenchRun, EquipmentUse, LotUse, Photo
from records.services.finishing import finish_run
from records.services.provisions import NewPhoto, add_photo, use_equipment, use_lot
from records.services.runs import abandon_run
from scheduling.models import Event, Task
from tests.makers import CalibrationMaker, EquipmentMaker, FluidLotMaker, at
from tests.records.makers import PNG, Workshop, flow_answers, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    shop.do_purge(at(0, 1))
    return shop


@pytest.fixture
def run(shop: Workshop) -> BenchRun:
    return shop.open("panel-flow-test", at(0, 3))


def test_a_good_test_passes_and_waits_for_its_signature(shop: Workshop, run: BenchRun) -> None:
    shop.fill_flow_test(run)
    run = shop.finish(run)
    assert (run.state, run.verdict, run.finished_at) == ("finished", "pass", at(0, 4))
    assert run.task.state == "awaiting_signature"
    assert [part["key"] for part in run.verdict_detail["parts"]] == [
        "power",
        "bus",
        "wet",
        "wet-time",
        "run",
        "flow-left",
        "flow-right",
        "flow-difference",
    ]


def test_finishing_twice_changes_nothing(shop: Workshop, run: BenchRun) -> None:
    shop.fill_flow_test(run)
    first = shop.finish(run)
    again = finish_run(actor=shop.technician, run_id=run.pk)
    assert (again.version, again.finished_at) == (first.version, first.finished_at)


def test_a_failed_side_reports_its_event_with_the_verdict(shop: Workshop, run: BenchRun) -> None:
    shop.fill_flow_test(run, left="1249.9", right="1300")
    run = shop.finish(run)
    event = Event.objects.get(kind__code="flow-test-failed")
    assert (run.verdict, event.detail, event.at) == ("fail", {"run": run.pk, "verdict": "fail"}, at(0, 4))
    purge = shop.task("panel-purge")
    assert purge.state == "raised"
    assert list(run.task.waits.filter(first__state="raised").values_list("first_id", flat=True)) == [purge.pk]


def test_a_failed_pair_of_good_sides_fails(shop: Workshop, run: BenchRun) -> None:
    shop.fill_flow_test(run, left="1300", right="1650.5")
    run = shop.finish(run)
    assert (run.verdict, Event.objects.filter(kind__code="flow-test-failed").count()) == ("fail", 1)


def test_low_voltage_makes_a_failed_test_invalid_but_hides_no_failure(shop: Workshop, run: BenchRun) -> None:
    shop.fill_flow_test(run, left="1000", right="1010", volts="27.4")
    run = shop.finish(run)
    assert (run.verdict, run.verdict_detail["measured"]) == ("invalid", "fail")
    assert Event.objects.filter(kind__code="flow-test-failed").count() == 1


def test_low_voltage_with_good_flow_is_invalid_and_raises_nothing(shop: Workshop, run: BenchRun) -> None:
    shop.fill_flow_test(run, volts="27.4")
    run = shop.finish(run)
    assert (run.verdict, run.verdict_detail["measured"]) == ("invalid", "pass")
    assert Event.objects.filter(kind__code="flow-test-failed").count() == 0


def test_a_run_time_off_its_nominal_is_scaled_exactly(shop: Workshop, run: BenchRun) -> None:
    """1 300 mL in 250 s are exactly 1 248 mL in 240 s: below 1 250 mL."""
    shop.provide(run)
    answers = flow_answers(run, "1300", "1310", "28.1")
    stopped = run.started_at + timedelta(seconds=250)
    answers["run"] = {"started_at": run.started_at.isoformat(), "stopped_at": stopped.isoformat()}
    for step, answer in answers.items():
        shop.answer(run, step, answer)
    left = run.measurements.get(point="flow-left")
    assert (left.verdict, left.detail["amounts"]) == ("fail", [{"value": "1248", "unit": "mL"}])


def test_a_weighed_side_uses_the_density_of_the_lot_named(shop: Workshop, run: BenchRun) -> None:
    """(2 047 − 412) g at 20 °C and 1.0900 g/mL are exactly 1 500 mL."""
    shop.provide(run)
    answers = flow_answers(run, "1500", "1510", "28.1")
    weighed = {"method": "weighed", "gross": "2047", "tare": "412", "celsius": "20", "unit": "g"}
    answers["collect"]["sides"]["left"] = weighed
    for step, answer in answers.items():
        shop.answer(run, step, answer)
    left = run.measurements.get(point="flow-left")
    assert (left.value, left.unit, left.detail["amounts"]) == (
        "2047",
        "g",
        [{"value": "1500", "unit": "mL"}],
    )
    other = FluidLotMaker(operator=shop.house.operator, base=shop.house.base)
    with pytest.raises(Conflict) as refused:
        use_lot(actor=shop.technician, run_id=run.pk, lot_id=other.pk, amount="22", unit="L")
    assert refused.value.code == "lot_in_use"


def test_a_temperature_outside_the_density_table_is_refused(shop: Workshop, run: BenchRun) -> None:
    shop.provide(run)
    answers = flow_answers(run, "1500", "1510", "28.1")
    weighed = {"method": "weighed", "gross": "2047", "tare": "412", "celsius": "41", "unit": "g"}
    answers["collect"]["sides"]["left"] = weighed
    collect = answers.pop("collect")
    for step, answer in answers.items():
        shop.answer(run, step, answer)
    with pytest.raises(Invalid):
        shop.answer(run, "collect", collect)
    assert not run.measurements.filter(point="flow-left").exists()


def test_an_unfinished_run_is_refused_naming_every_open_step(shop: Workshop, run: BenchRun) -> None:
    shop.provide(run)
    shop.answer(run, "clear", {"acknowledged": True})
    with pytest.raises(Conflict) as refused:
        shop.finish(run)
    assert refused.value.code == "steps_open"
    assert [reason.field for reason in refused.value.reasons] == [
        "power",
        "voltage",
        "wet",
        "run",
        "collect",
        "picture",
    ]
    run.refresh_from_db()
    assert (run.state, run.verdict, run.content) == ("open", "", None)


def test_tools_and_lot_must_be_named_before_the_end(shop: Workshop, run: BenchRun) -> None:
    photo = NewPhoto("picture", "p1", PNG, at(0, 3))
    add_photo(actor=shop.technician, run_id=run.pk, new=photo)
    for step, answer in flow_answers(run, "1500", "1510", "28.1").items():
        shop.answer(run, step, answer)
    shop.answer(run, "picture", {"photo_key": "p1"})
    with pytest.raises(Conflict) as refused:
        shop.finish(run)
    assert [reason.field for reason in refused.value.reasons] == ["voltmeter", "cylinder", "fluid"]
    assert Task.objects.get(pk=run.task_id).state == "in_work"


def test_a_failure_that_cannot_report_its_event_leaves_nothing_behind(shop: Workshop, run: BenchRun) -> None:
    shop.house.operator.event_kinds.filter(code="flow-test-failed").update(retired_on=at().date())
    shop.fill_flow_test(run, left="1000", right="1000")
    with pytest.raises(Invalid):
        shop.finish(run)
    run.refresh_from_db()
    assert (run.state, run.verdict, run.finished_at) == ("open", "", None)
    assert Task.objects.get(pk=run.task_id).state == "in_work"


def test_a_calibration_that_ended_before_the_work_did_stops_the_finish(shop: Workshop, run: BenchRun) -> None:
    tool = EquipmentMaker(operator=shop.house.operator, base=shop.house.base, calibrated=False)
    CalibrationMaker(equipment=tool, due_on=at(0).date())
    shop.fill_flow_test(run)
    use_equipment(actor=shop.technician, run_id=run.pk, role="cylinder", equipment_id=tool.pk)
    with pytest.raises(Conflict, match="calibration ended") as refused:
        finish_run(actor=shop.technician, run_id=run.pk, at=at(1))
    assert refused.value.reasons[0].field == "cylinder"


def test_a_failed_run_is_not_given_up(shop: Workshop, run: BenchRun) -> None:
    shop.fill_flow_test(run, left="1000", right="1000")
    shop.finish(run)
    with pytest.raises(Conflict) as refused:
        abandon_run(actor=shop.technician, run_id=run.pk, reason="bad luck")
    assert refused.value.code == "failure_stays"


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ("wrong kind", "is no measuring cylinder"),
        ("withdrawn", "is withdrawn from use"),
        ("lapsed", "its calibration lapsed on 2\u00a0Mar\u00a02025"),
        ("never", "it was never calibrated"),
    ],
)
def test_only_usable_equipment_may_be_named(shop: Workshop, run: BenchRun, case: str, words: str) -> None:
    house = {"operator": shop.house.operator, "base": shop.house.base}
    tool = {
        "wrong kind": lambda: shop.voltmeter,
        "withdrawn": lambda: EquipmentMaker(**house, withdrawn_on=at(0).date()),
        "lapsed": lambda: EquipmentMaker(**house, calibrated__due_on=at(-1).date()),
        "never": lambda: EquipmentMaker(**house, calibrated=False),
    }[case]()
    with pytest.raises(Invalid, match=words):
        use_equipment(actor=shop.technician, run_id=run.pk, role="cylinder", equipment_id=tool.pk)
    assert EquipmentUse.objects.count() == 0


def test_equipment_without_a_need_for_calibration_may_be_used(shop: Workshop, run: BenchRun) -> None:
    tool = EquipmentMaker(
        operator=shop.house.operator, base=shop.house.base, calibrated=False, needs_calibration=False
    )
    use = use_equipment(actor=shop.technician, run_id=run.pk, role="cylinder", equipment_id=tool.pk)
    assert (use.certificate, use.calibration_due) == ("", None)


def test_a_role_the_aircraft_does_not_ask_for_is_refused(shop: Workshop, run: BenchRun) -> None:
    with pytest.raises(Invalid, match="is asked for nowhere"):
        use_equipment(actor=shop.technician, run_id=run.pk, role="pod", equipment_id=shop.cylinder.pk)


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ("quarantined", "is quarantined"),
        ("expired", "expired on 2\u00a0Mar\u00a02025"),
        ("too little", "is below the 20 L"),
    ],
)
def test_only_a_usable_lot_may_be_named(shop: Workshop, run: BenchRun, case: str, words: str) -> None:
    values = {"quarantined": {"state": "quarantined"}, "expired": {"expires_on": at(-1).date()}}.get(case, {})
    lot = FluidLotMaker(operator=shop.house.operator, base=shop.house.base, **values)
    amount = "19.9" if case == "too little" else "21"
    with pytest.raises(Invalid, match=words):
        use_lot(actor=shop.technician, run_id=run.pk, lot_id=lot.pk, amount=amount, unit="L")
    assert LotUse.objects.count() == 0


def test_a_lot_amount_in_another_unit_is_compared_exactly(shop: Workshop, run: BenchRun) -> None:
    use = use_lot(actor=shop.technician, run_id=run.pk, lot_id=shop.lot.pk, amount="20000", unit="mL")
    assert (use.amount, use.unit) == ("20000", "mL")


def test_a_photo_is_kept_with_its_digest_and_sent_twice_is_one(shop: Workshop, run: BenchRun) -> None:
    new = NewPhoto("picture", "p1", PNG, at(0, 3))
    photo, repeated = add_photo(actor=shop.technician, run_id=run.pk, new=new)
    again, repeated_again = add_photo(actor=shop.technician, run_id=run.pk, new=new)
    assert (repeated, repeated_again, again.pk, Photo.objects.count()) == (False, True, photo.pk, 1)
    assert photo.sha256 == "8c6806d8d6093084661ba908761d0bc076628c282907d140abe683606d5c0fdd"


@pytest.mark.parametrize("content", [b"GIF89a", b"<svg></svg>", b""])
def test_only_jpeg_and_png_pictures_are_taken(shop: Workshop, run: BenchRun, content: bytes) -> None:
    with pytest.raises(Invalid, match="neither JPEG nor PNG"):
        add_photo(actor=shop.technician, run_id=run.pk, new=NewPhoto("picture", "p1", content, at(0, 3)))
    assert Photo.objects.count() == 0


@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_provisions_and_the_end_are_for_those_who_work(shop: Workshop, run: BenchRun, role: Role) -> None:
    actor = shop.house.actor(role)
    new = NewPhoto("picture", "p1", PNG, at(0, 3))
    for command in (
        lambda: use_equipment(actor=actor, run_id=run.pk, role="cylinder", equipment_id=shop.cylinder.pk),
        lambda: use_lot(actor=actor, run_id=run.pk, lot_id=shop.lot.pk, amount="21", unit="L"),
        lambda: add_photo(actor=actor, run_id=run.pk, new=new),
        lambda: finish_run(actor=actor, run_id=run.pk),
    ):
        with pytest.raises(NotAllowed):
            command()
    assert (EquipmentUse.objects.count(), LotUse.objects.count(), Photo.objects.count()) == (0, 0, 0)
