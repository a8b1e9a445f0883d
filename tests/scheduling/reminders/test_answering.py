"""Acknowledged, put off with a reason, passed on to the director when nobody answered."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.common.clock import frozen, now
from fleet.common.errors import Conflict, Invalid, NotFound
from scheduling.models import Reminder
from scheduling.services.reminders import acknowledge, escalate_unacknowledged, mark_seen, snooze
from tests.makers import make_person
from tests.scheduling.reminders.office import LADDER, Office, after, make_office

pytestmark = pytest.mark.django_db
STRICT = LADDER | {"acknowledge_within_hours": 12, "acknowledge_last": 2}


@pytest.fixture
def office() -> Office:
    office = make_office(left=6, ladder=STRICT)
    office.look()
    return office


def only(**wanted: object) -> Reminder:
    return Reminder.objects.get(**wanted)


def test_acknowledged_it_leaves_the_inbox_and_is_not_passed_on(office: Office) -> None:
    row = only()
    assert acknowledge(actor=office.actor("controller"), reminder_ids=[row.pk]) == 1
    assert acknowledge(actor=office.actor("controller"), reminder_ids=[row.pk]) == 0
    assert office.inbox("controller") == []
    with frozen(after(days=1)):
        assert escalate_unacknowledged(actor=office.system) == 0


def test_nobody_acknowledges_for_somebody_else(office: Office) -> None:
    with pytest.raises(NotFound):
        acknowledge(actor=office.actor("director"), reminder_ids=[only().pk])
    with pytest.raises(NotFound):
        snooze(
            actor=office.actor("director"), reminder_id=only().pk, until=after(days=1), reason="parts ordered"
        )
    with pytest.raises(NotFound):
        acknowledge(
            actor=make_office().actor("controller"),
            reminder_ids=[only(recipient=office.person("controller")).pk],
        )
    row = only(recipient=office.person("controller"))
    assert (row.acknowledged_at, row.snoozed_until) == (None, None)


def test_unanswered_it_is_passed_on_to_the_director_once(office: Office) -> None:
    with frozen(after(hours=11)):
        assert escalate_unacknowledged(actor=office.system) == 0
    with frozen(after(hours=12)):
        assert escalate_unacknowledged(actor=office.system) == 1
        assert escalate_unacknowledged(actor=office.system) == 0
        office.look()
    told = only(recipient=office.person("director"), channel="product")
    assert told.stage == "escalated"
    assert told.words.startswith(f"{office.person('controller').full_name} did not acknowledge this in time.")
    assert only(recipient=office.person("director"), channel="mail").send_after >= told.send_after
    assert told.settled_at is None


def test_a_step_that_need_not_be_acknowledged_is_never_passed_on() -> None:
    office = make_office(left=10, ladder=STRICT)
    office.look()
    with frozen(after(days=2)):
        assert escalate_unacknowledged(actor=office.system) == 0


def test_one_answer_speaks_for_all_who_were_told() -> None:
    office = make_office(left=6, ladder=STRICT)
    second = make_person("controller", office.house.operator)
    office.look()
    acknowledge(
        actor=office.actor("controller"), reminder_ids=[only(recipient=office.person("controller")).pk]
    )
    with frozen(after(days=1)):
        assert escalate_unacknowledged(actor=office.system) == 0
    assert only(recipient=second).acknowledged_at is None


def test_what_was_settled_meanwhile_is_not_passed_on(office: Office) -> None:
    office.item.is_active = False
    office.item.save()
    office.look()
    with frozen(after(days=1)):
        assert escalate_unacknowledged(actor=office.system) == 0


def test_put_off_it_comes_back_then(office: Office) -> None:
    actor = office.actor("controller")
    snooze(actor=actor, reminder_id=only().pk, until=after(days=2), reason="parts arrive on Wednesday")
    with frozen(after(days=1)):
        assert escalate_unacknowledged(actor=office.system) == 0
    row = only()
    assert (row.snoozed_until, row.snooze_reason) == (after(days=2), "parts arrive on Wednesday")


def test_while_put_off_further_steps_stay_silent_until_the_limit_is_reached(office: Office) -> None:
    snooze(
        actor=office.actor("controller"), reminder_id=only().pk, until=after(days=20), reason="in the hangar"
    )
    with frozen(after(days=5)):
        office.look()
        assert office.inbox("controller") == []
    with frozen(after(days=6)):
        office.look()
        assert office.inbox("controller") == ["reached-2025-03-09"]


def test_after_it_was_put_off_the_step_that_stands_then_is_told(office: Office) -> None:
    snooze(
        actor=office.actor("controller"), reminder_id=only().pk, until=after(days=5), reason="in the hangar"
    )
    with frozen(after(days=5, hours=1)):
        office.look()
        assert office.inbox("controller") == ["days-1"]


@pytest.mark.parametrize(
    ("days", "reason", "fields"),
    [
        (1, "  ", ["reason"]),
        (-1, "later", ["until"]),
        (31, "later", ["until"]),
        (0, "", ["reason", "until"]),
    ],
)
def test_putting_off_needs_a_reason_and_a_moment_soon(
    office: Office, days: int, reason: str, fields: list[str]
) -> None:
    with pytest.raises(Invalid) as refused:
        snooze(
            actor=office.actor("controller"),
            reminder_id=only().pk,
            until=now() + timedelta(days=days),
            reason=reason,
        )
    assert [one.field for one in refused.value.reasons] == fields
    assert only().snoozed_until is None


def test_what_was_acknowledged_is_not_put_off(office: Office) -> None:
    actor = office.actor("controller")
    acknowledge(actor=actor, reminder_ids=[only().pk])
    with pytest.raises(Conflict):
        snooze(actor=actor, reminder_id=only().pk, until=after(days=1), reason="later")


def test_seen_is_kept_from_the_first_time_and_for_oneself_only(office: Office) -> None:
    row = only()
    assert mark_seen(actor=office.actor("director"), reminder_ids=[row.pk]) == 0
    assert mark_seen(actor=office.actor("controller"), reminder_ids=[row.pk]) == 1
    with frozen(after(days=1)):
        assert mark_seen(actor=office.actor("controller"), reminder_ids=[row.pk]) == 0
    row.refresh_from_db()
    assert row.seen_at == after()
