"""Written limits that make no sense are refused with field, value and remedy."""

from datetime import date
from typing import Any

import pytest

from scheduling.due.parse import LimitError, limits_from_data
from scheduling.due.terms import Measure, MonthRule
from tests.words import plain

HOURS = {"measure": "hours", "every": "200:00"}


def problem(data: Any, **context: Any) -> tuple[str, str]:
    with pytest.raises(LimitError) as refusal:
        limits_from_data(data, **context)
    field, value, remedy = refusal.value.problems[0]
    assert remedy
    return field, plain(value)


@pytest.mark.parametrize(
    ("data", "field", "value"),
    [
        ({"measure": "days", "every": 0}, "limits.every", "0"),
        ({"measure": "landings", "every": -5}, "limits.every", "-5"),
        ({"measure": "hours", "every": "0:00"}, "limits.every", "0:00"),
        ({"measure": "hours", "every": "-1:00"}, "limits.every", "-1:00"),
        ({"measure": "hours", "every": "10:75"}, "limits.every", "10:75"),
        ({"measure": "hours", "every": 200}, "limits.every", "200"),
        ({"measure": "months", "every": 1.5}, "limits.every", "1.5"),
        ({"measure": "months", "every": "1.5"}, "limits.every", "1.5"),
        ({"measure": "months", "every": True}, "limits.every", "True"),
        ({"measure": "months", "every": 1201}, "limits.every", "1201"),
        ({"measure": "months"}, "limits.every", "None"),
        ({"measure": "weeks", "every": 2}, "limits.measure", "weeks"),
        ({"measure": ["hours"], "every": 2}, "limits.measure", "['hours']"),
        ({"measure": "date", "every": "2026-02-30"}, "limits.every", "2026-02-30"),
        ({"measure": "season", "every": "02-30"}, "limits.every", "02-30"),
        ({"measure": "season", "every": "autumn"}, "limits.every", "autumn"),
        ({"measure": "season", "every": "begins", "early": 365}, "limits.early", "365"),
        ({**HOURS, "soon": "200:00"}, "limits.soon", "200:00 h"),
        ({**HOURS, "first": "50:00", "soon": "60:00"}, "limits.soon", "60:00 h"),
        ({**HOURS, "first": "0:00"}, "limits.first", "0:00"),
        ({**HOURS, "first": "50:00", "since": "fitted"}, "limits.first", "50:00 h"),
        ({**HOURS, "first": "50:00", "once": True}, "limits.first", "50:00 h"),
        ({**HOURS, "first_since": "last_done"}, "limits.first_since", "last_done"),
        ({**HOURS, "overrun": {"allowed": "200:00"}}, "limits.overrun.allowed", "200:00 h"),
        ({**HOURS, "overrun": {"allowed": {"months": 1}}}, "limits.overrun.allowed", "{'months': 1}"),
        ({**HOURS, "overrun": "10:00"}, "limits.overrun", "10:00"),
        ({**HOURS, "anchor": "window"}, "limits.window", ""),
        ({**HOURS, "window": {"percent": "10"}}, "limits.anchor", "from_done"),
        ({**HOURS, "anchor": "window", "window": {"percent": "100"}}, "limits.window.percent", "100"),
        ({**HOURS, "anchor": "window", "window": {"percent": 0.1}}, "limits.window.percent", "0.1"),
        ({**HOURS, "anchor": "sometimes"}, "limits.anchor", "sometimes"),
        ({**HOURS, "once": "yes"}, "limits.once", "yes"),
        ({**HOURS, "evry": 3}, "limits.evry", "3"),
        ({"combine": "first", "of": []}, "limits.of", "[]"),
        ({"combine": "both", "of": [HOURS]}, "limits.combine", "both"),
        ({"combine": "first", "of": [HOURS, {"measure": "days", "every": 0}]}, "limits.of[1].every", "0"),
        ({"combine": "first", "of": [{"combine": "last", "of": [7]}]}, "limits.of[0].of[0]", "7"),
        ("200 hours", "limits", "200 hours"),
        (None, "limits", "None"),
    ],
)
def test_limits_without_sense_name_field_and_value(data: Any, field: str, value: str) -> None:
    assert problem(data) == (field, value)


def test_a_fixed_date_in_the_past_is_refused_and_today_is_not() -> None:
    past = {"measure": "date", "every": "2026-03-01"}
    assert problem(past, today=date(2026, 3, 2)) == ("limits.every", "2026-03-01")
    assert limits_from_data({"measure": "date", "every": "2026-03-02"}, today=date(2026, 3, 2))


@pytest.mark.parametrize("since", ["fitted", "overhaul"])
def test_time_since_fitting_or_overhaul_needs_a_component(since: str) -> None:
    assert problem({**HOURS, "since": since}, component=False) == ("limits.since", since)
    assert limits_from_data({**HOURS, "since": since}, component=True)


def test_all_faults_are_named_at_once() -> None:
    with pytest.raises(LimitError) as refusal:
        limits_from_data({"combine": "first", "of": [{"measure": "days", "every": 0}, {"measure": "x"}]})
    assert [field for field, _, _ in refusal.value.problems] == ["limits.of[0].every", "limits.of[1].measure"]
    assert isinstance(refusal.value, ValueError)


def test_groups_nested_without_end_are_refused() -> None:
    data: Any = HOURS
    for _ in range(30):
        data = {"combine": "first", "of": [data]}
    with pytest.raises(LimitError, match="nested too deep"):
        limits_from_data(data)


def test_written_limits_read_as_meant() -> None:
    limits = limits_from_data({"measure": "months", "every": "12", "month_rule": "same_day"})
    assert (limits.measure, limits.interval, limits.month_rule) == (Measure.MONTHS, 12, MonthRule.SAME_DAY)
