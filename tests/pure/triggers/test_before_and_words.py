"""By when of tasks that come before others, and rules in words."""

from datetime import UTC, datetime

from scheduling.triggers.before import settled
from scheduling.triggers.describe import rule_differences, rule_sentence, where_words
from scheduling.triggers.match import match
from scheduling.triggers.rule_form import rule_from_data
from scheduling.triggers.terms import Before, BeforeKind, EventFacts, RuleFacts, Where
from tests.words import plain

EVENT = EventFacts(1, "panel", datetime(2026, 3, 14, 9, tzinfo=UTC), "QX-SKA", name="panel replaced")


def rule(*raises: tuple[int, str, dict[str, object]], **where: list[str]) -> RuleFacts:
    return rule_from_data(
        {
            "id": 1,
            "code": "after-panel",
            "version": 1,
            "event_kind": "panel",
            "where": where,
            "raises": [
                {"order": order, "procedure_code": title, "title": title.capitalize(), "before": before}
                for order, title, before in raises
            ],
        }
    )


NEXT_TASK = {"kind": "next_task"}
ICING = {"kind": "next_icing_flight"}
TEN_DAYS = {"kind": "within_days", "amount": 10}


def befores(*raises: tuple[int, str, dict[str, object]]) -> list[Before]:
    return [demand.before for demand in settled(match(EVENT, [rule(*raises)]))]


def test_a_task_before_the_next_one_takes_its_limit() -> None:
    assert befores((1, "purge", NEXT_TASK), (2, "test", TEN_DAYS)) == [
        Before(BeforeKind.WITHIN_DAYS, 10),
        Before(BeforeKind.WITHIN_DAYS, 10),
    ]


def test_the_strictest_of_all_that_follow_counts_also_through_another_such_task() -> None:
    found = befores(
        (1, "flush", NEXT_TASK), (2, "purge", NEXT_TASK), (3, "test", TEN_DAYS), (3, "look", ICING)
    )
    assert [before.kind for before in found[:2]] == [BeforeKind.NEXT_ICING_FLIGHT] * 2


def test_other_limits_stay_as_they_are() -> None:
    assert befores((1, "purge", ICING), (2, "test", TEN_DAYS))[0] == Before(BeforeKind.NEXT_ICING_FLIGHT)


def test_a_reason_stands_in_the_words_as_a_sentence() -> None:
    data = {"order": 1, "procedure_code": "x", "title": "X", "before": ICING, "reason": "air is in the lines"}
    rules = [
        rule_from_data({"id": 1, "code": "r", "version": 1, "event_kind": "panel", "raises": [data]}),
    ]
    assert plain(match(EVENT, rules)[0].why) == (
        "Panel replaced on 14 Mar 2026: rule r version 1 matched (the event is panel). Air is in the lines."
    )


def test_a_rule_reads_as_one_sentence() -> None:
    words = rule_sentence(
        rule((1, "purge", NEXT_TASK), (2, "test", TEN_DAYS), options_required=["belly-pod"]),
        "Panel replaced",
        {"belly-pod": "Belly pod"},
    )
    assert words == (
        "After “Panel replaced”, only with Belly pod: first Purge, before the task that follows it; "
        "then Test, within 10 days."
    )


def test_every_part_of_a_condition_is_said() -> None:
    where = Where(
        ("wing-left", "tail"),
        frozenset({"porous-panel"}),
        frozenset({"belly-pod"}),
        frozenset({"glass-cockpit"}),
        frozenset({"dovekie-19"}),
    )
    assert where_words(where, {}) == (
        "at tail or wing left, to a porous panel, on a dovekie 19, only with belly pod, only without glass cockpit"
    )
    assert where_words(Where(), {}) == "always"


def test_what_changed_between_two_versions_is_said() -> None:
    old = rule((1, "purge", ICING), (2, "test", TEN_DAYS))
    new = rule((1, "purge", TEN_DAYS), (2, "wipe", ICING), positions=["wing"])
    assert rule_differences(old, new, {}) == (
        "Applies was “always”, is “at wing”.",
        "No longer raises “2. Test, within 10 days”.",
        "Was “1. Purge, before the next flight in known or forecast icing”, is “1. Purge, within 10 days”.",
        "Raises “2. Wipe, before the next flight in known or forecast icing” as well.",
    )
    assert rule_differences(old, old, {}) == ()
