"""Inspection entries: statement or discrepancies, time in service, and one point watched on its own."""

from typing import Any

import pytest

from fleet.common.actor import Role
from fleet.models import Equipment
from records.jobs import check_records, refresh_trends
from records.models import SignedRecord, TrendState
from records.seal.canonical import read_form
from records.selectors.trends import trend_for
from records.services.provisions import use_equipment
from scheduling.models import Task
from scheduling.services.tasks import WantedTask, raise_task
from tests.makers import EquipmentMaker, at
from tests.records.makers import Workshop, make_procedure, make_workshop

pytestmark = pytest.mark.django_db
SPRAY: dict[str, Any] = {
    "purpose": "See that the windshield is reached.",
    "cautions": [],
    "equipment": [{"role": "cylinder", "kind": "measuring-cylinder", "name": "Cylinder"}],
    "fluid": None,
    "points": [
        {
            "key": "spray",
            "name": "Collected in one minute",
            "unit": "mL",
            "limit": {"kind": "minimum", "unit": "mL", "minimum": "90"},
            "nominal": "100",
            "trend": True,
        }
    ],
    "steps": [
        {
            "key": "collect",
            "kind": "read_value",
            "title": "Collect for a minute",
            "point": "spray",
            "equipment_role": "cylinder",
        }
    ],
    "follow_up_on_fail": "",
}


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    make_procedure(shop.house, "windshield-spray", SPRAY, is_inspection=True)
    return shop


def inspect(shop: Workshop, day: int, reading: str) -> SignedRecord:
    if not Task.objects.filter(procedure__code="windshield-spray", state="raised").exists():
        wanted = WantedTask(shop.aircraft.pk, "windshield-spray", "Windshield spray", "programme 30-40")
        raise_task(actor=shop.house.actor(Role.DIRECTOR), wanted=wanted)
    run = shop.open("windshield-spray", at(day, 1))
    use_equipment(actor=shop.technician, run_id=run.pk, role="cylinder", equipment_id=shop.cylinder.pk)
    shop.answer(run, "collect", {"value": reading, "unit": "mL"})
    record = shop.sign(shop.finish(run))
    assert record is not None
    return record


def test_a_good_inspection_carries_the_certifying_statement_and_time_in_service(shop: Workshop) -> None:
    """14 CFR 43.11(a)(2) and (4)."""
    record = inspect(shop, 0, "100")
    payload = read_form(record.canonical.encode())
    assert (record.kind, payload["aircraft"]["time_in_service"]) == ("inspection", "1000:00")
    assert payload["statement"].startswith("Inspected in accordance with")
    assert "discrepancies" not in payload


def test_a_bad_inspection_lists_its_discrepancies_instead(shop: Workshop) -> None:
    """14 CFR 43.11(a)(5) and (b): the dated list goes with the entry; the item stays open."""
    record = inspect(shop, 0, "89.5")
    payload = read_form(record.canonical.encode())
    assert payload["discrepancies"] == [
        "Collected in one minute: 89.5 mL is 0.5 mL below the lower limit of 90 mL"
    ]
    assert ("statement" in payload, Task.objects.get().state) == (False, "raised")


def test_one_point_is_watched_alone(shop: Workshop) -> None:
    Equipment.objects.filter(pk=shop.cylinder.pk).update(uncertainty="1")
    for day, reading in enumerate(("100", "101", "99", "100.5", "99.5", "100", "92")):
        inspect(shop, 7 * day, reading)
    state = TrendState.objects.get()
    assert (state.channel, state.point, state.state) == ("alone", "spray", "alarm_low")
    trend = trend_for(shop.technician, shop.aircraft.registration, "windshield-spray", "spray")
    assert [name for name, _ in trend.crossings] == ["Collected in one minute"]


def test_the_spread_never_falls_below_what_the_instrument_can_read(shop: Workshop) -> None:
    """10 mL half-width, equally likely all over, on 100 mL: 10/sqrt(3) = 5.7735 %."""
    for day in range(3):
        inspect(shop, 7 * day, "100")
    trend = trend_for(shop.technician, shop.aircraft.registration, "windshield-spray", "spray")
    assert trend.spread is not None
    assert round(trend.spread.sigma, 4) == 5.7735
    assert trend.spread.is_floor


def test_the_nightly_jobs_judge_and_check_everything(shop: Workshop) -> None:
    EquipmentMaker(operator=shop.house.operator, base=shop.house.base)
    inspect(shop, 0, "100")
    TrendState.objects.all().delete()
    assert (refresh_trends(), TrendState.objects.count()) == (1, 1)
    assert check_records() == 0
    Task.objects.update(proof="QX-NIL-000001")
    assert check_records() == 2
