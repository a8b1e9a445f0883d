"""Variations are refused when they ask too much, too late, or give no reason; tables are read with their faults."""

from dataclasses import replace
from datetime import date

import pytest

from scheduling.due.engine import due_of
from scheduling.due.parse import LimitError
from scheduling.due.terms import Amount, Facts, Limit, Mark, Measure, Since, Variation
from scheduling.due.variation import (
    Protection,
    VariationRefused,
    VariationRequest,
    grant_variation,
    table_from_data,
    table_to_data,
)

H = 60
DATA = {
    "name": "Ours",
    "source": "our programme",
    "approval": "A-1",
    "bands": [{"measure": "hours", "up_to": "5000:00", "percent": "10", "cap": "500:00"}],
}
TABLE = table_from_data(DATA)


def facts_at(hours: int, *granted: Variation) -> Facts:
    day = date(2026, 3, 2)
    last = Mark(date(2025, 9, 1), {"hours": 1200 * H})
    return Facts(day, Mark(day, {"hours": hours}), {Since.LAST_DONE: last}, variations=granted)


HUNDRED = Limit(Measure.HOURS, 100 * H)
ASK = VariationRequest(Amount(10 * H), "director of maintenance", "hangar closed by snow", "V-7")


@pytest.mark.parametrize(
    ("hours", "ask", "code"),
    [
        (1290 * H, replace(ASK, amount=Amount(10 * H + 1)), "above_what_is_permitted"),
        (1290 * H, replace(ASK, amount=Amount(0)), "above_what_is_permitted"),
        (1290 * H, replace(ASK, reason=" "), "reason_missing"),
        (1301 * H, ASK, "already_past"),
        (1290 * H, replace(ASK, protection=Protection.LIMITATION, amount=Amount(5 * H)), "never_varied"),
    ],
)
def test_a_grant_is_refused_when_it_asks_too_much_too_late_or_without_reason(
    hours: int, ask: VariationRequest, code: str
) -> None:
    with pytest.raises(VariationRefused) as refusal:
        grant_variation(due_of(HUNDRED, facts_at(hours)).limits[0], ask, TABLE)
    assert refusal.value.code == code


def test_a_table_reads_back_as_written() -> None:
    assert table_to_data(TABLE) == DATA


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"source": ""}, "source"),
        ({"bands": []}, "bands"),
        ({"bands": [{"measure": "hours"}]}, "bands[0]"),
        ({"bands": [{"measure": "date", "percent": "10"}]}, "bands[0].measure"),
        ({"bands": [{"measure": "hours", "percent": "0"}]}, "bands[0].percent"),
        ({"bands": [{"measure": "landings", "above": 500, "up_to": 500, "cap": 2}]}, "bands[0].up_to"),
    ],
)
def test_a_table_without_sense_names_the_field(change: dict[str, object], field: str) -> None:
    with pytest.raises(LimitError) as refusal:
        table_from_data({**DATA, **change})
    assert refusal.value.problems[0][0] == field
