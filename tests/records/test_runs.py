import pytest

from scheduling.models import Task
from tests.makers import at
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    return make_workshop()


def test_a_purge_and_a_flow_test_run_from_event_to_sealed_records(shop: Workshop) -> None:
    shop.report()
    purge = shop.do_purge(at(0, 1))
    record = shop.do_flow_test(at(0, 3))
    assert (purge.number, record.number) == (
        f"{shop.aircraft.registration}-000001",
        f"{shop.aircraft.registration}-000002",
    )
    assert record.verdict == "pass"
    assert Task.objects.filter(state="closed").count() == 2
