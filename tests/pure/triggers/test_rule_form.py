"""Reading rules from data: every wrong field is named with its value and remedy."""

from __future__ import annotations

import pytest

from scheduling.triggers.rule_form import BadRule, Known, rule_from_data
from scheduling.triggers.terms import Before, BeforeKind, RaiseFacts, RuleFacts, Where

GOOD = {
    "id": 7,
    "code": "panel",
    "version": 2,
    "event_kind": "panel_replaced",
    "where": {"positions": ["wing"], "options_required": ["belly-pod"]},
    "raises": [
        {
            "order": 2,
            "procedure_code": "FLOW",
            "title": "Flow test",
            "before": {"kind": "within_days", "amount": 5},
        },
        {"order": 1, "procedure_code": "PURGE", "title": "Purge", "before": {"kind": "next_task"}},
    ],
}


def errors(known=None, **changes):
    with pytest.raises(BadRule) as caught:
        rule_from_data({**GOOD, **changes}, known)
    return {error.field: error for error in caught.value.errors}


def raised(**changes):
    return [
        {
            "order": 1,
            "procedure_code": "PURGE",
            "title": "Purge",
            "before": {"kind": "next_flight"},
            **changes,
        }
    ]


def test_a_good_rule_is_read_with_its_tasks_in_order():
    assert rule_from_data(GOOD) == RuleFacts(
        id=7,
        code="panel",
        version=2,
        event_kind="panel_replaced",
        where=Where(positions=("wing",), options_required=frozenset({"belly-pod"})),
        raises=(
            RaiseFacts(1, "PURGE", "Purge", Before(BeforeKind.NEXT_TASK)),
            RaiseFacts(2, "FLOW", "Flow test", Before(BeforeKind.WITHIN_DAYS, 5)),
        ),
    )


def test_several_wrong_fields_are_named_at_once():
    found = errors(code=" ", version=0, raises=[])
    assert set(found) == {"code", "version", "raises"}
    assert found["version"].value == "0"
    assert found["version"].remedy == "write 1, 2, 3 …"


@pytest.mark.parametrize(
    ("changes", "field", "value"),
    [
        ({"event_kind": None}, "event_kind", ""),
        ({"id": None}, "id", ""),
        ({"enabled": "yes"}, "enabled", "yes"),
        ({"wher": {}}, "wher", "{}"),
        ({"where": {"option_required": ["x"]}}, "where.option_required", "['x']"),
        ({"where": ["wing"]}, "where", "['wing']"),
        ({"where": {"positions": "wing"}}, "where.positions", "wing"),
        ({"where": {"positions": [""]}}, "where.positions", ""),
        ({"where": {"options_required": ["a"], "options_absent": ["a"]}}, "where.options_absent", "a"),
        ({"raises": ["PURGE"]}, "raises[0]", "PURGE"),
        ({"raises": raised(order=True)}, "raises[0].order", "True"),
        ({"raises": raised(title="")}, "raises[0].title", ""),
        ({"raises": raised(before=None)}, "raises[0].before.kind", ""),
        ({"raises": raised(before={"kind": "soon"})}, "raises[0].before.kind", "soon"),
        ({"raises": raised(before={"kind": "within_days"})}, "raises[0].before.amount", ""),
        ({"raises": raised(before={"kind": "within_days", "amount": -3})}, "raises[0].before.amount", "-3"),
        ({"raises": raised(before={"kind": "within_days", "amount": 1.5})}, "raises[0].before.amount", "1.5"),
        ({"raises": raised(before={"kind": "next_flight", "amount": 3})}, "raises[0].before.amount", "3"),
        ({"raises": raised(before={"kind": "next_task"})}, "raises[0].before", "next_task"),
        ({"raises": raised() + raised()}, "raises", "PURGE"),
    ],
)
def test_a_wrong_field_is_named_with_its_value(changes, field, value):
    found = errors(**changes)
    assert list(found) == [field]
    assert found[field].value == value
    assert found[field].remedy


def test_names_that_are_not_known_are_refused_with_the_choices():
    known = Known(event_kinds={"pump_changed"}, procedure_codes={"PURGE"}, options={"glass-cockpit"})
    found = errors(known)
    assert set(found) == {"event_kind", "where.options", "raises[0].procedure_code"}
    assert found["event_kind"].remedy == "choose one of pump_changed"
