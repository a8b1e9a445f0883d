"""How the tests knock at doors, and what every answer owes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from copy import copy, deepcopy
from typing import Any, TypeVar

from django.apps import apps
from django.test import Client
from rest_framework.test import APIClient

from fleet.common.actor import Role
from fleet.models import User
from tests.doors.doors import Door
from tests.doors.examples import send
from tests.doors.journal import Journal, journal
from tests.doors.places import address_of, values_of
from tests.doors.scene import Scene

C = TypeVar("C", bound=Client)
PROBLEM = "application/problem+json"


def everybody(scene: Scene, client_of: Callable[[User | None], C]) -> dict[str, C]:
    """Everybody at their client: roles by name, `stranger`, and `nobody`; an error becomes an answer of 500."""
    known = {role.value: client_of(scene.person(role)) for role in Role}
    clients = {**known, "stranger": client_of(scene.stranger), "nobody": client_of(None)}
    for client in clients.values():
        client.raise_request_exception = False
    return clients


@contextmanager
def visit(scene: Scene, clients: Mapping[str, C], who: str) -> Iterator[tuple[C, Journal]]:
    """Somebody's client for one visit, with a journal of it.

    The journal takes the database back, sessions included, so whatever cookie the visit was given is forgotten too:
    the next visit starts with the one it had.
    """
    client = copy(clients[who])
    client.cookies = deepcopy(clients[who].cookies)
    with journal(_person_at(scene, who)) as notes:
        yield client, notes


def _person_at(scene: Scene, who: str) -> int | None:
    """Whose key the requests of a client carry."""
    if who == "nobody":
        return None
    return scene.stranger.pk if who == "stranger" else scene.person(who).pk


def text_of(answer: Any) -> str:
    """The whole answer as text; bytes that are none are replaced."""
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return str(content.decode("utf-8", "replace"))


def given_away(scene: Scene, text: str, door: Door) -> list[str]:
    """The operator's own words in an answer, but for what its address asked with."""
    for asked in map(str, values_of(scene, door).values()):
        text = text.replace(asked, "")
    return [mark for mark in scene.marks if re.search(rf"(?<![a-z]){re.escape(mark)}", text)]


def rows() -> dict[str, set[str]]:
    """Every row of every table of the three rooms, as text."""
    models = [
        model for app in ("fleet", "scheduling", "records") for model in apps.get_app_config(app).get_models()
    ]
    return {model.__name__: {repr(row) for row in model._default_manager.values_list()} for model in models}


def must_be_a_problem(answer: Any, door: object) -> dict[str, Any]:
    """RFC 9457: the media type, and the status repeated in the body."""
    assert answer["Content-Type"] == PROBLEM, (door, answer.status_code, answer["Content-Type"])
    body: dict[str, Any] = json.loads(answer.content)
    assert body["status"] == answer.status_code, (door, body)
    assert all(body[name] for name in ("type", "title", "code", "detail")), (door, body)
    return body


def must_be_well_answered(answer: Any, door: object) -> None:
    """Never the server's own fault, and every no in the form of a problem."""
    assert answer.status_code < 500, (door, answer.content[:2000], getattr(answer, "exc_info", None))
    if answer.status_code >= 400:
        must_be_a_problem(answer, door)


def knock(clients: Mapping[str, APIClient], who: str, scene: Scene, door: Door) -> tuple[Any, Journal]:
    """One request as somebody, with `read_text` on the answer; what it wrote is noted and taken back."""
    with visit(scene, clients, who) as (client, notes):
        address = address_of(scene, door, "/api/v1/")
        answer = send(client, scene, door, address) if door.writes else client.get(address)
        answer.read_text = text_of(answer)
    return answer, notes
