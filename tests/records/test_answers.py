"""An answer holds exactly what its step asks for: whatever else it brings is refused by name."""

from typing import Any

import pytest

from fleet.common.errors import Invalid
from records.models import BenchRun, StepAnswer
from tests.makers import at
from tests.records.makers import Workshop, flow_answers, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    return make_workshop()


@pytest.fixture
def run(shop: Workshop) -> BenchRun:
    """A flow test just begun, its purge done."""
    shop.report()
    shop.do_purge(at(0, 1))
    run = shop.open("panel-flow-test", at(0, 3))
    shop.provide(run)
    return run


def upto(shop: Workshop, run: BenchRun, last: str, **readings: str) -> None:
    values = {"left": "1500", "right": "1510", "volts": "28.1"} | readings
    for step, answer in flow_answers(run, **values).items():
        shop.answer(run, step, answer)
        if step == last:
            return


BAD_ANSWERS = [
    ("voltage", {"value": 28.1, "unit": "V"}, "value"),
    ("voltage", {"value": "28.1", "unit": "mL"}, "bus"),
    ("voltage", {"value": "28.1", "unit": "V", "extra": 0.1}, "extra"),
    ("voltage", {"value": "twenty", "unit": "V"}, "value"),
    ("voltage", {"value": "28.1"}, "unit"),
]


@pytest.mark.parametrize(("step", "answer", "field"), BAD_ANSWERS)
def test_an_answer_holds_only_what_its_step_asks_for_exactly(
    shop: Workshop, run: BenchRun, step: str, answer: dict[str, Any], field: str
) -> None:
    upto(shop, run, "power")
    before = StepAnswer.objects.count()
    with pytest.raises(Invalid) as refused:
        shop.answer(run, step, answer)
    assert (refused.value.status, StepAnswer.objects.count()) == (422, before)
    assert field in [reason.field for reason in refused.value.reasons]


BAD_COLLECTIONS = [
    ({"left": {"method": "volume", "value": "1500", "unit": "mL"}}, "sides.right"),
    ({"left": {"method": "guess"}, "right": {"method": "volume", "value": "1", "unit": "mL"}}, "sides.left"),
    (
        {
            "left": {"method": "volume", "value": 1500.5, "unit": "mL"},
            "right": {"method": "volume", "value": "1500", "unit": "mL"},
        },
        "sides.left.value",
    ),
    (
        {
            "left": {"method": "volume", "value": "1500", "unit": "mL", "gross": "1"},
            "right": {"method": "volume", "value": "1500", "unit": "mL"},
        },
        "sides.left.gross",
    ),
]


@pytest.mark.parametrize(("sides", "field"), BAD_COLLECTIONS)
def test_a_collection_names_each_wrong_field(
    shop: Workshop, run: BenchRun, sides: dict[str, Any], field: str
) -> None:
    upto(shop, run, "run")
    with pytest.raises(Invalid) as refused:
        shop.answer(run, "collect", {"sides": sides})
    assert field in [reason.field for reason in refused.value.reasons]


BAD_OUTLETS = [
    ([{"position": "outlet-wing-left", "wet": True, "seconds": "45"}], "outlets"),
    (
        [
            {"position": "outlet-wing-left", "wet": True, "seconds": 4.5},
            {"position": "outlet-wing-right", "wet": False},
        ],
        "outlets.0.seconds",
    ),
    (
        [
            {"position": "outlet-wing-left", "wet": False, "seconds": 4.5},
            {"position": "outlet-wing-right", "wet": False},
        ],
        "outlets.0.seconds",
    ),
    (
        [
            {"position": "outlet-wing-left", "wet": "yes", "seconds": "4"},
            {"position": "outlet-wing-right", "wet": False, "colour": "blue"},
        ],
        "outlets.1.colour",
    ),
    (
        [
            {"position": "outlet-strut-left", "wet": True, "seconds": "4"},
            {"position": "outlet-wing-left", "wet": True, "seconds": "4"},
            {"position": "outlet-wing-right", "wet": True, "seconds": "4"},
        ],
        "outlets.0.position",
    ),
]


@pytest.mark.parametrize(("outlets", "field"), BAD_OUTLETS)
def test_an_outlet_answer_names_each_wrong_field(
    shop: Workshop, run: BenchRun, outlets: list[dict[str, Any]], field: str
) -> None:
    upto(shop, run, "voltage")
    with pytest.raises(Invalid) as refused:
        shop.answer(run, "wet", {"outlets": outlets})
    assert field in [reason.field for reason in refused.value.reasons]
