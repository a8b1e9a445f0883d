"""A worker killed between any two lines: nothing is lost, and a sink that honours the identity takes each once."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from types import FrameType
from typing import Any

import pytest
from django.core.mail import get_connection
from django.db import connections

from fleet.common.clock import frozen
from scheduling.models import Reminder, ReminderChoice
from scheduling.services import digests, reminder_sending, reminders
from scheduling.services.digests import write_digests
from scheduling.services.reminder_sending import send_waiting
from scheduling.services.reminders import escalate_unacknowledged
from tests.scheduling.reminders.office import LADDER, Office, after, make_endpoint, make_office
from tests.scheduling.reminders.sink import Sink, a_sink

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.serial]

MODULES = {module.__file__ for module in (reminders, digests, reminder_sending)}


@pytest.fixture
def sink() -> Iterator[Sink]:
    with a_sink() as one:
        yield one


class Killer:
    """Kills its own process, as `kill -9` would, before the nth line of the watched modules is carried out."""

    def __init__(self, line: int) -> None:
        self.left = line

    def __call__(self, frame: FrameType, event: str, _: Any) -> Any:
        if frame.f_code.co_filename not in MODULES:
            return None
        if event == "line":
            self.left -= 1
            if self.left < 0:
                os.kill(os.getpid(), signal.SIGKILL)
        return self


def killed_at(line: int, work: Any, moment: datetime) -> bool:
    """Carry the work out in a process of its own that dies before that line; false if it came to its end."""
    connections.close_all()
    child = os.fork()
    if child == 0:
        try:
            with frozen(moment):
                sys.settrace(Killer(line))
                work()
                sys.settrace(None)
        finally:
            connections.close_all()
            os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def test_killed_at_every_line_of_sending_each_message_is_taken_exactly_once(sink: Sink) -> None:
    office = make_office(left=10)
    make_endpoint(office, sink.url)
    office.look()
    moment, line, kills = after(), 0, 0
    while True:
        Reminder.objects.filter(channel="webhook").update(
            sent_at=None, claimed_at=None, attempts=0, key=f"round-{line}", send_after=moment
        )
        was_killed = killed_at(line, lambda: send_waiting(worker="victim"), moment)
        moment += timedelta(minutes=10)
        with frozen(moment):
            send_waiting(worker="rescuer")
        assert Reminder.objects.filter(channel="webhook", sent_at=None).count() == 0
        if not was_killed:
            break
        kills += 1
        line += 1
    taken = sink.taken()
    assert kills > 40
    assert len(taken) == kills + 1
    assert all(len(bodies) == 1 for bodies in taken.values())
    assert len(sink.received) > len(taken), "some were sent twice and told apart by their identity"
    assert all(one.is_genuine for one in sink.received)


def rows(office: Office) -> list[tuple[str, str]]:
    return sorted(Reminder.objects.values_list("key", "channel"))


def everything(office: Office) -> None:
    office.look()
    escalate_unacknowledged(actor=office.system)
    write_digests(actor=office.system)


def test_killed_at_every_line_of_writing_nothing_is_lost_and_nothing_is_double() -> None:
    office = make_office(left=-1, ladder=LADDER | {"overdue_to": ["director", "controller"]})
    make_endpoint(office)
    ReminderChoice.objects.create(
        operator=office.house.operator, person=office.person("director"), by_mail="at_once"
    )
    everything(office)
    expected = rows(office)
    assert [channel for _, channel in expected].count("mail") == 2
    line = 0
    while True:
        Reminder.objects.all().delete()
        was_killed = killed_at(line, lambda: everything(office), after())
        everything(office)
        assert rows(office) == expected
        gathered = Reminder.objects.filter(digest__isnull=False)
        assert {row.recipient for row in gathered} == {office.person("controller")}
        if not was_killed:
            break
        line += 7
    assert line > 300


def test_a_mail_server_gets_the_same_message_id_from_the_worker_after_the_killed_one(
    tmp_path: Any, settings: Any
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path)
    assert get_connection().__class__.__module__.endswith("filebased")
    office = make_office(left=10)
    office.look()
    write_digests(actor=office.system)
    line = 0
    while killed_at(line, lambda: send_waiting(worker="victim"), after()):
        if any(tmp_path.iterdir()):
            break
        Reminder.objects.filter(channel="mail").update(claimed_at=None, attempts=0)
        line += 1
    with frozen(after() + timedelta(minutes=10)):
        assert send_waiting(worker="rescuer").sent == 1
    letters = [path.read_text() for path in tmp_path.iterdir()]
    identities = [row for letter in letters for row in letter.splitlines() if row.startswith("Message-ID:")]
    assert len(identities) == 2
    assert len(set(identities)) == 1
