"""The golden table of dues: written limits and facts, and what must come out."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from scheduling.due.engine import due_of
from scheduling.due.kept import last_due_from_data
from scheduling.due.parse import limits_from_data
from scheduling.due.terms import Facts, Mark, MonthDay, Season, Since

TABLE = json.loads((Path(__file__).parents[3] / "fixtures" / "golden" / "due.json").read_text())


def facts_of(written: dict[str, Any]) -> Facts:
    marks = {
        Since(name): Mark(date.fromisoformat(mark["day"]), mark["counters"], mark["record"])
        for name, mark in written["marks"].items()
    }
    month, _, day = written.get("season", "").partition("-")
    today = date.fromisoformat(written["today"])
    return Facts(
        today=today,
        now=Mark(today, written["now"]),
        marks=marks,
        last_due=last_due_from_data(written.get("last_due", {})),
        season=Season(MonthDay(int(month), int(day))) if month else None,
    )


@pytest.mark.parametrize("case", TABLE, ids=[case["name"] for case in TABLE])
def test_the_golden_table_holds(case: dict[str, Any]) -> None:
    result = due_of(limits_from_data(case["limits"]), facts_of(case["facts"]))
    expected = case["expect"]
    assert result.status.value == expected["status"]
    assert result.governing == expected["governing"]
    found = {
        due.path: due.due_at.isoformat() if isinstance(due.due_at, date) else due.due_at
        for due in result.limits
    }
    assert found == expected["due"]
    assert {due.path: due.remaining for due in result.limits} == expected["remaining"]
