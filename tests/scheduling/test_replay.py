"""Property: sending any beginning of a story again, with its keys, changes nothing and gets the same answers."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.common.actor import Role
from fleet.models import Component, Installation, TrailEntry
from scheduling.models import Event, Task, TaskCause, TaskWait
from tests.makers import api_of, at
from tests.scheduling.makers import Workshop, close_task, make_workshop

pytestmark = pytest.mark.django_db

Request = tuple[Role, str, dict[str, Any]]
KINDS = ("line-opened", "lightning-strike", "panel-replaced", "tank-refitted")
STEPS = st.lists(
    st.tuples(st.sampled_from(["report", "raise", "start", "withdraw", "close"]), st.integers(0, 5)),
    min_size=1,
    max_size=7,
)


def reporting(workshop: Workshop, turn: int, number: int) -> Request:
    kind = KINDS[number % len(KINDS)]
    body: dict[str, Any] = {
        "aircraft": workshop.aircraft.registration,
        "kind": kind,
        "at": at(hours=turn).isoformat(),
    }
    if kind == "panel-replaced":
        new = {"part_number": "30-110-9", "serial_number": f"NEW-{turn}"}
        body |= {"position": "panel-left", "new_component": new}
    elif kind == "tank-refitted":
        body |= {"position": "tank"}
    return Role.TECHNICIAN, "events/", body


def raising(workshop: Workshop, turn: int, number: int) -> Request:
    code = ("panel-purge", "panel-flow-test")[number % 2]
    why = {"aircraft": workshop.aircraft.registration, "procedure": code, "why": f"turn {turn}"}
    return Role.CONTROLLER, "tasks/", why


def on_task(act: str) -> Callable[[Workshop, int, int], Request | None]:
    role = Role.TECHNICIAN if act == "start" else Role.CONTROLLER

    def request(workshop: Workshop, turn: int, number: int) -> Request | None:
        tasks = list(Task.objects.order_by("pk"))
        if not tasks:
            return None
        return role, f"tasks/{tasks[number % len(tasks)].pk}/{act}/", {"reason": f"turn {turn}"}

    return request


MAKERS = {
    "report": reporting,
    "raise": raising,
    "start": on_task("start"),
    "withdraw": on_task("withdraw"),
}


def send(workshop: Workshop, request: Request, key: str) -> tuple[int, Any]:
    role, address, body = request
    api = api_of(workshop.house.person(role))
    answer = api.post(f"/api/v1/{address}", body, format="json", headers={"Idempotency-Key": key})
    return answer.status_code, answer.json()


def state() -> list[Any]:
    return [
        list(Event.objects.order_by("pk").values_list()),
        list(Task.objects.order_by("pk").values_list()),
        list(TaskCause.objects.order_by("pk").values_list()),
        list(TaskWait.objects.order_by("pk").values_list()),
        list(Installation.objects.order_by("pk").values_list()),
        [model.objects.count() for model in (Component, TrailEntry)],
    ]


def live(workshop: Workshop, steps: list[tuple[str, int]]) -> list[tuple[Request, str, tuple[int, Any]]]:
    """Play the story; what was carried out, with its key and answer."""
    done = []
    for turn, (act, number) in enumerate(steps):
        if act == "close":
            startable = Task.objects.filter(state="raised", waits=None).order_by("pk").first()
            if startable:
                close_task(startable, closed_at=at(hours=turn), started_at=at(hours=turn))
            continue
        request = MAKERS[act](workshop, turn, number)
        if request is None:
            continue
        answer = send(workshop, request, f"key-{turn}")
        if answer[0] < 300:
            done.append((request, f"key-{turn}", answer))
    return done


@settings(max_examples=12)
@given(steps=STEPS, length=st.integers(1, 7))
def test_any_beginning_sent_again_changes_nothing(steps: list[tuple[str, int]], length: int) -> None:
    with transaction.atomic():
        workshop = make_workshop(rules=("panel-replaced", "tank-refitted", "line-opened"))
        done = live(workshop, steps)
        before = state()
        for request, key, answer in done[:length]:
            assert send(workshop, request, key) == answer
        assert state() == before
        transaction.set_rollback(True)
