"""One mail a person and morning."""

from __future__ import annotations

from datetime import UTC, datetime, time

import pytest
from django.core import mail

from fleet.common.clock import frozen
from fleet.models import Base
from scheduling.models import Reminder, ReminderChoice
from scheduling.services.digests import write_digests
from scheduling.services.reminder_sending import send_waiting
from scheduling.services.reminders import acknowledge
from tests.scheduling.reminders.office import LADDER, Office, after, make_office
from tests.words import plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def office() -> Office:
    office = make_office(left=10)
    office.look()
    return office


def digests() -> list[Reminder]:
    return list(Reminder.objects.filter(stage="digest").order_by("id"))


def test_the_digest_is_written_at_the_bases_morning_and_once_that_day(office: Office) -> None:
    Base.objects.update(digest_at=time(6, 30), zone="Europe/Oslo")
    with frozen(datetime(2025, 3, 4, 5, 29, tzinfo=UTC)):
        assert write_digests(actor=office.system) == 0
    with frozen(datetime(2025, 3, 4, 5, 30, tzinfo=UTC)):
        assert write_digests(actor=office.system) == 1
        assert write_digests(actor=office.system) == 0
    assert [row.recipient for row in digests()] == [office.person("controller")]


def test_it_says_what_is_new_and_what_still_waits(office: Office) -> None:
    write_digests(actor=office.system)
    with frozen(after(days=4)):
        office.look()
        write_digests(actor=office.system)
    first, second = digests()
    assert first.subject == f"{office.house.operator.name}: 1\u00a0reminder"
    assert plain(first.words).splitlines()[:2] == [
        "New",
        f"- {office.house.aircraft}: 100-hour check due on 13 Mar 2025; 10 days left.",
    ]
    assert "6 days left" in plain(second.words)


def test_a_morning_with_nothing_new_brings_no_mail(office: Office) -> None:
    write_digests(actor=office.system)
    with frozen(after(days=1)):
        office.look()
        assert write_digests(actor=office.system) == 0


def test_three_mornings_missed_are_one_digest() -> None:
    office = make_office(left=-1, ladder=LADDER)
    with frozen(after(days=3)):
        office.look()
        assert write_digests(actor=office.system) == 1
        assert write_digests(actor=office.system) == 0
    assert [row.detail["day"] for row in digests()] == ["2025-03-06"]


def test_what_was_acknowledged_before_the_morning_is_not_in_it(office: Office) -> None:
    acknowledge(actor=office.actor("controller"), reminder_ids=[Reminder.objects.get().pk])
    assert write_digests(actor=office.system) == 0


@pytest.mark.parametrize("choice", ["none", "at_once"])
def test_who_wants_no_digest_gets_none(office: Office, choice: str) -> None:
    ReminderChoice.objects.create(
        operator=office.house.operator, person=office.person("controller"), by_mail=choice
    )
    assert write_digests(actor=office.system) == 0


def test_the_digest_goes_out_once_with_a_message_id_of_its_own(office: Office) -> None:
    write_digests(actor=office.system)
    assert send_waiting(worker="w").sent == 1
    assert send_waiting(worker="w").sent == 0
    (sent,) = mail.outbox
    assert sent.to == [office.person("controller").email]
    assert sent.extra_headers["Message-ID"].startswith("<")
    assert sent.extra_headers["Auto-Submitted"] == "auto-generated"


def test_the_clock_of_autumn_that_shows_the_hour_twice_brings_one_digest() -> None:
    office = make_office(left=240)
    Base.objects.update(zone="Europe/Oslo", digest_at=time(2, 30), quiet_from=time(0), quiet_to=time(0))
    count = 0
    for hour, minute in ((0, 15), (0, 35), (1, 15), (1, 35), (2, 15)):
        with frozen(datetime(2025, 10, 26, hour, minute, tzinfo=UTC)):
            office.look()
            count += write_digests(actor=office.system)
    assert count == 1
