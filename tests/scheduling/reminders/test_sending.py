"""Sent once; a failing sink is tried again with longer and longer pauses; what can never be sent is recorded."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta
from smtplib import SMTPRecipientsRefused, SMTPServerDisconnected
from typing import Any

import pytest
from django.core import mail
from django.core.mail import EmailMessage

from fleet.common.clock import frozen, now
from fleet.models import User
from scheduling.models import Reminder, ReminderChoice, WebhookEndpoint
from scheduling.services.reminder_sending import BACKOFF_MINUTES, Sweep, claim_next, finish, send_waiting
from scheduling.services.reminder_sending import SENT as OUTCOME_SENT
from tests.scheduling.reminders.office import Office, after, make_endpoint, make_office
from tests.scheduling.reminders.sink import Sink, a_sink
from tests.words import plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def sink() -> Iterator[Sink]:
    with a_sink() as one:
        yield one


@pytest.fixture
def office(sink: Sink) -> Office:
    office = make_office(left=10)
    make_endpoint(office, sink.url)
    office.look()
    return office


def test_a_webhook_is_signed_and_says_what_falls_due(office: Office, sink: Sink) -> None:
    assert send_waiting(worker="w") == Sweep(sent=1)
    (one,) = sink.received
    assert one.is_genuine
    assert one.timestamp == int(after().timestamp())
    body = json.loads(one.body)
    assert body["type"] == "reminder.before"
    assert plain(body["data"]["due"]) == "13 Mar 2025"
    assert body["data"]["consequence"] == "airworthiness"


def test_what_was_sent_is_not_sent_again(office: Office, sink: Sink) -> None:
    send_waiting(worker="w")
    assert send_waiting(worker="w") == Sweep()
    assert len(sink.received) == 1


@pytest.mark.parametrize("status", [500, 404, 302, 429])
def test_anything_but_2xx_is_tried_again_later_with_the_same_identity_and_body(
    office: Office, sink: Sink, status: int
) -> None:
    sink.status = status
    assert send_waiting(worker="w") == Sweep(put_back=1)
    assert send_waiting(worker="w") == Sweep()
    sink.status = 200
    with frozen(after() + timedelta(minutes=1)):
        assert send_waiting(worker="w") == Sweep(sent=1)
    first, second = sink.received
    assert (first.message_id, first.body) == (second.message_id, second.body)
    assert second.timestamp == first.timestamp + 60
    assert second.is_genuine


def test_pauses_grow_and_after_the_last_the_failure_is_recorded(office: Office, sink: Sink) -> None:
    sink.status = 500
    moment, pauses = after(), []
    for _ in range(20):
        with frozen(moment):
            sweep = send_waiting(worker="w")
        row = Reminder.objects.get(channel="webhook")
        if sweep.given_up:
            break
        pauses.append(int((row.send_after - moment).total_seconds()) // 60)
        moment = row.send_after
    assert tuple(pauses) == BACKOFF_MINUTES
    assert row.failed_reason == "given up after 10 tries: answered 500"
    assert len(sink.received) == 10
    with frozen(moment + timedelta(days=30)):
        assert send_waiting(worker="w") == Sweep()


def test_a_sink_that_is_gone_is_switched_off(office: Office, sink: Sink) -> None:
    sink.status = 410
    assert send_waiting(worker="w") == Sweep(given_up=1)
    endpoint = WebhookEndpoint.objects.get()
    assert (endpoint.is_enabled, endpoint.disabled_reason) == (False, "it answered 410 Gone")


def test_a_failing_sink_does_not_hold_up_the_others(office: Office, sink: Sink) -> None:
    dead = make_endpoint(office, "http://127.0.0.1:9/hook")
    for number in range(3):
        Reminder.objects.create(
            operator=office.house.operator,
            endpoint=dead,
            channel="webhook",
            rung="x",
            key=f"dead-{number}",
            subject="x",
            words="x",
            send_after=after(hours=-1),
            written_at=after(),
        )
    assert send_waiting(worker="w") == Sweep(sent=1, put_back=1)
    assert Reminder.objects.filter(endpoint=dead, attempts=0).count() == 2


def test_two_workers_never_hold_the_same_claim(office: Office) -> None:
    first = claim_next(worker="one", resting=set())
    assert first is not None
    assert claim_next(worker="two", resting=set()) is None


def test_a_claim_nobody_finished_runs_out_and_is_taken_by_another(office: Office, sink: Sink) -> None:
    lost = claim_next(worker="one", resting=set())
    assert lost is not None
    with frozen(now() + timedelta(seconds=299)):
        assert send_waiting(worker="two") == Sweep()
    with frozen(now() + timedelta(seconds=301)):
        assert send_waiting(worker="two") == Sweep(sent=1)
    finish(lost, OUTCOME_SENT)
    assert len(sink.received) == 1
    assert Reminder.objects.get(pk=lost.pk).claimed_by.startswith("two:")


def mail_office() -> Office:
    office = make_office(left=10)
    ReminderChoice.objects.create(
        operator=office.house.operator, person=office.person("controller"), by_mail="at_once"
    )
    office.look()
    return office


def test_a_mail_keeps_its_message_id_over_tries(monkeypatch: pytest.MonkeyPatch) -> None:
    mail_office()
    seen: list[str] = []
    real = EmailMessage.send

    def breaks(message: EmailMessage, *arguments: Any, **options: Any) -> int:
        seen.append(str(message.extra_headers["Message-ID"]))
        if len(seen) == 1:
            raise SMTPServerDisconnected("gone")
        return real(message, *arguments, **options)

    monkeypatch.setattr(EmailMessage, "send", breaks)
    assert send_waiting(worker="w") == Sweep(put_back=1)
    with frozen(after() + timedelta(minutes=1)):
        assert send_waiting(worker="w") == Sweep(sent=1)
    assert len(seen) == 2
    assert len(set(seen)) == 1
    assert len(mail.outbox) == 1


@pytest.mark.parametrize(("code", "outcome"), [(550, Sweep(given_up=1)), (450, Sweep(put_back=1))])
def test_an_address_refused_for_good_is_not_tried_again(
    monkeypatch: pytest.MonkeyPatch, code: int, outcome: Sweep
) -> None:
    mail_office()

    def refuses(message: EmailMessage, *_: Any, **__: Any) -> int:
        raise SMTPRecipientsRefused({message.to[0]: (code, b"no")})

    monkeypatch.setattr(EmailMessage, "send", refuses)
    assert send_waiting(worker="w") == outcome


def test_somebody_without_an_address_is_recorded_as_such() -> None:
    office = mail_office()
    User.objects.filter(pk=office.person("controller").pk).update(email="")
    assert send_waiting(worker="w") == Sweep(given_up=1)
    assert Reminder.objects.get(channel="mail").failed_reason == "no mail address is known"


def test_a_subject_with_line_breaks_cannot_forge_headers() -> None:
    office = mail_office()
    Reminder.objects.filter(channel="mail").update(subject="Due\r\nBcc: all@example.org")
    assert send_waiting(worker="w") == Sweep(sent=1)
    assert mail.outbox[0].subject == "Due Bcc: all@example.org"
    assert mail.outbox[0].recipients() == [office.person("controller").email]
