"""Real workers on Redis and on files: one killed in the middle of a message, another that takes over."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import pytest
from celery import Celery
from django.conf import settings
from django.db import connection

from fleet.common.clock import frozen
from scheduling.models import Reminder, WeekPlan
from scheduling.services.plans import ask_for_week
from tests.makers import LONG_AGO, NOON
from tests.scheduling.plans.week import MONDAY, SUNDAY_NOON, make_hangar
from tests.scheduling.reminders.office import Office, make_endpoint, make_office
from tests.scheduling.reminders.sink import Sink, a_sink

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.serial]
PATIENCE = 120


def database_address() -> str:
    row = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{row['NAME']}"
    secret = f":{row['PASSWORD']}" if row["PASSWORD"] else ""
    return f"postgres://{row['USER']}{secret}@{row['HOST']}:{row['PORT']}/{row['NAME']}"


class Queue:
    """One queue of a kind, its workers, and the doorbell."""

    def __init__(self, folder: Path, redis: str) -> None:
        self.environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
            "VERGLAS_DATA_FOLDER": str(folder),
            "VERGLAS_DATABASE_URL": database_address(),
            "VERGLAS_REDIS_URL": redis,
        }
        self.app = Celery("doorbell", broker=redis or "filesystem://")
        if redis:
            self.app.connection().channel().client.flushdb()
        else:
            for name in ("queue", "queue-control"):
                (folder / name).mkdir(mode=0o700, exist_ok=True)
            letters = str(folder / "queue")
            self.app.conf.broker_transport_options = {
                "data_folder_in": letters,
                "data_folder_out": letters,
                "control_folder": str(folder / "queue-control"),
            }
        self.log = (folder / "worker.log").open("ab")
        self.workers: list[subprocess.Popen[bytes]] = []

    def ring(self, job: str) -> None:
        self.app.send_task(f"scheduling.jobs.{job}")

    def start(self) -> subprocess.Popen[bytes]:
        options = "--pool solo --without-gossip --without-mingle --without-heartbeat --loglevel INFO"
        worker = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "deploy", "worker", *options.split()],
            cwd=settings.ROOT,
            env=self.environment,
            stdout=self.log,
            stderr=self.log,
        )
        self.workers.append(worker)
        return worker

    def close(self) -> None:
        for worker in self.workers:
            if worker.poll() is None:
                worker.send_signal(signal.SIGKILL)
            worker.wait(timeout=10)
        self.log.close()
        self.app.close()


@pytest.fixture(params=["files", "redis"])
def queue(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Queue]:
    redis = request.getfixturevalue("redis_url") if request.param == "redis" else ""
    one = Queue(tmp_path, redis)
    yield one
    one.close()


@pytest.fixture
def sink() -> Iterator[Sink]:
    with a_sink() as one:
        yield one


def until(what: Callable[[], Any]) -> None:
    deadline = monotonic() + PATIENCE
    while not what():
        assert monotonic() < deadline, "it did not happen in time"
        sleep(0.1)


def waiting_message(sink: Sink) -> Office:
    office = make_office(left=10)
    make_endpoint(office, sink.url)
    office.look()
    return office


def test_a_message_in_the_hands_of_a_killed_worker_is_sent_by_the_next_under_the_same_identity(
    queue: Queue, sink: Sink
) -> None:
    waiting_message(sink)
    sink.pause = 30
    victim = queue.start()
    queue.ring("send_reminders")
    until(lambda: sink.received)
    victim.send_signal(signal.SIGKILL)
    victim.wait(timeout=10)
    row = Reminder.objects.get(channel="webhook")
    assert (row.sent_at, row.attempts) == (None, 1)
    sink.pause = 0
    Reminder.objects.update(claimed_at=NOON.replace(year=LONG_AGO.year))
    queue.start()
    queue.ring("send_reminders")
    until(lambda: Reminder.objects.filter(channel="webhook", sent_at__isnull=False).exists())
    assert len(sink.received) == 2
    assert [len(bodies) for bodies in sink.taken().values()] == [1]
    assert all(one.is_genuine for one in sink.received)


def test_two_workers_rung_many_times_send_each_message_once(queue: Queue, sink: Sink) -> None:
    office = waiting_message(sink)
    usual = Reminder.objects.get(channel="webhook")
    for number in range(20):
        usual.pk, usual.key = None, f"message-{number}"
        usual.save(force_insert=True)
    for _ in range(6):
        queue.ring("send_reminders")
    queue.start()
    queue.start()
    until(lambda: not Reminder.objects.filter(channel="webhook", sent_at=None).exists())
    assert len(sink.received) == 21
    assert len(sink.taken()) == 21
    assert office.house.operator.pk == usual.operator_id


def test_a_week_asked_for_is_worked_out_by_a_worker(queue: Queue) -> None:
    with frozen(SUNDAY_NOON):
        hangar = make_hangar()
        plan = ask_for_week(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    queue.environment["VERGLAS_PLANNER_SECONDS"] = "2"
    queue.start()
    queue.ring("solve_weeks")
    until(lambda: WeekPlan.objects.get(pk=plan.pk).state == WeekPlan.State.DRAFT)
