"""The timer of a run: kept by the server, so that a reload, a double tap or a wrong clock does no harm."""

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from records.models import BenchRun
from tests.makers import at
from tests.records.makers import Workshop, make_workshop
from tests.records.screens.forms import (
    OUTLETS,
    answer,
    begin,
    browser,
    page_of,
    provide,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    made = make_workshop()
    made.report()
    made.do_purge(at(hours=1))
    return made


class TestTimer:
    """The timed run by the screen's own button."""

    def ready(self, workshop: Workshop) -> tuple[Client, BenchRun]:
        client = browser(workshop)
        run = begin(workshop, client)
        provide(workshop, client, run)
        answer(client, run, "clear")
        answer(client, run, "power", done="yes")
        answer(client, run, "voltage", value="28.1", unit="V")
        answer(client, run, "wet", **OUTLETS)
        return client, run

    def press(self, client: Client, run: BenchRun, step: str, press: str, when: datetime, **data: Any) -> Any:
        sent = {"press": press, "pressed_at": when.isoformat(), **data}
        return client.post(f"/runs/{run.pk}/steps/{step}/timer/", sent)

    def test_it_survives_a_reload_and_keeps_the_moments_of_the_presses(self, workshop: Workshop) -> None:
        client, run = self.ready(workshop)
        off = datetime.now(UTC)
        on = off - timedelta(seconds=239, milliseconds=500)
        self.press(client, run, "run", "on", on)
        for _ in range(2):
            assert f'data-since="{on.isoformat()}"' in page_of(client, run)
        self.press(client, run, "run", "off", off)
        kept = run.answers.get(step="run").answer
        assert kept == {"started_at": on.isoformat(), "stopped_at": off.isoformat()}
        assert "3\u00a0min 59.5\u00a0s" in page_of(client, run)

    def test_pressing_stop_twice_keeps_one_run(self, workshop: Workshop) -> None:
        client, run = self.ready(workshop)
        off = datetime.now(UTC)
        self.press(client, run, "run", "on", off - timedelta(seconds=240))
        for _ in range(2):
            self.press(client, run, "run", "off", off)
        assert run.answers.filter(step="run").count() == 1

    def test_a_clock_far_off_is_not_believed(self, workshop: Workshop) -> None:
        client, run = self.ready(workshop)
        wrong = datetime.now(UTC) + timedelta(hours=3)
        self.press(client, run, "run", "on", wrong)
        assert f'data-since="{wrong.isoformat()}"' not in page_of(client, run)

    def test_started_by_mistake_it_is_cleared_and_nothing_is_kept(self, workshop: Workshop) -> None:
        client, run = self.ready(workshop)
        self.press(client, run, "run", "on", datetime.now(UTC))
        client.post(f"/runs/{run.pk}/steps/run/timer/", {"press": "clear"})
        assert 'data-state="ready"' in page_of(client, run)
        assert not run.answers.filter(step="run").exists()

    def test_the_pump_rests_before_it_goes_on_again(self, workshop: Workshop) -> None:
        workshop.report(when=at(hours=5))
        client = browser(workshop)
        task = workshop.task("panel-purge")
        client.post(f"/tasks/{task.pk}/start/", {"key": "purge"})
        run = BenchRun.objects.get(task=task)
        answer(client, run, "open", done="yes")
        now = datetime.now(UTC)
        self.press(client, run, "pump", "on", now - timedelta(seconds=30))
        self.press(client, run, "pump", "off", now - timedelta(seconds=22))
        early = self.press(client, run, "pump", "on", now - timedelta(seconds=19))
        shown = client.get(early["Location"]).content.decode()
        assert re.search(r"The pump rests \d+ s more", shown)
        self.press(client, run, "pump", "on", now - timedelta(seconds=10))
        self.press(client, run, "pump", "off", now - timedelta(seconds=1))
        kept = run.answers.get(step="pump").answer["runs"]
        assert [_seconds(each) for each in kept] == [Decimal(8), Decimal(9)]


def _seconds(run: dict[str, str]) -> Decimal:
    took = datetime.fromisoformat(run["off_at"]) - datetime.fromisoformat(run["on_at"])
    return Decimal(took // timedelta(milliseconds=1)) / 1000
