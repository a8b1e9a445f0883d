"""Relief clocks refuse what they cannot count."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from scheduling.due.parse import LimitError
from scheduling.due.relief import (
    ReliefCategory,
    ReliefUnit,
    categories_from_data,
    relief_by_counter,
    relief_ends,
    stated,
)

UTC_ZONE = ZoneInfo("UTC")
CATEGORIES = {
    "A": ReliefCategory("A", None, ReliefUnit.DAYS, "as stated"),
    "B": ReliefCategory("B", 3, ReliefUnit.DAYS, "three days"),
}


def test_relief_refuses_what_it_cannot_count() -> None:
    moment = datetime(2025, 1, 26, 10, tzinfo=UTC)
    with pytest.raises(LimitError, match="has no time zone"):
        relief_ends(CATEGORIES["B"], moment.replace(tzinfo=None), UTC_ZONE)
    with pytest.raises(LimitError, match="stated in the remarks"):
        relief_ends(CATEGORIES["A"], moment, UTC_ZONE)
    with pytest.raises(LimitError, match="does not count days"):
        relief_ends(ReliefCategory("A", 3, ReliefUnit.FLIGHTS, ""), moment, UTC_ZONE)
    with pytest.raises(LimitError, match="zero or below"):
        stated(CATEGORIES["A"], 0, ReliefUnit.FLIGHTS)
    with pytest.raises(LimitError, match="below the counter"):
        relief_by_counter(stated(CATEGORIES["A"], 3, ReliefUnit.FLIGHTS), 2400, 2399)


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"code": "B", "amount": 0, "unit": "days"}, "categories[0].amount"),
        ({"code": "B", "amount": 3, "unit": "weeks"}, "categories[0].unit"),
        ({"amount": 3, "unit": "days"}, "categories[0].code"),
        ({"code": "B", "amount": 3, "unit": "days", "starts_at": "late"}, "categories[0].starts_at"),
    ],
)
def test_categories_without_sense_name_the_field(data: dict[str, object], field: str) -> None:
    with pytest.raises(LimitError) as refusal:
        categories_from_data([data])
    assert refusal.value.problems[0][0] == field
