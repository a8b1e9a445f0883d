"""How the forms of the pages are found and filled in: further pages, what only fits one form, and which never write."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pytest
from django.urls import Resolver404, resolve

from fleet.common.actor import Role
from tests.doors.examples import amending, flights, programme
from tests.doors.forms import Form, forms_of
from tests.doors.places import address_of
from tests.doors.scene import MONDAY, Scene
from tests.doors.visits import READS, Visits

WORKERS = (Role.CONTROLLER, Role.TECHNICIAN, Role.INSPECTOR, Role.DIRECTOR, Role.ADMINISTRATOR)
NO_PAGE = re.compile(r"\.(pdf|csv|xlsx)$|/(export|photo|text|counts|progress)/$|photos/")
# Pages that show their form for other things than stand in the addresses, or when asked a question.
ALSO: tuple[Callable[[Scene], str], ...] = (
    lambda scene: f"/runs/{scene.key('run_paused')}/",
    lambda scene: f"/runs/{scene.key('run_answered')}/",
    lambda _: "/rules/ours-off/",
    lambda _: "/procedures/ours-drafted/versions/2/",
    lambda scene: f"/due/{scene.things['variation'].applicability_id}/",
    lambda scene: f"/tasks/withdraw/?task={scene.key('task')}",
    lambda scene: f"/week/?base={scene.house.base.code}&monday={MONDAY}&whose=base",
    lambda scene: f"/events/new/?aircraft={scene.aircraft.registration}&kind=line-opened",
)
# Where the usual word is none that the field takes.
BY_HAND: dict[str, Mapping[str, str]] = {
    "fleet:equipment": {"due_on": "2026-03-05"},
    "fleet:life-limits": {"limit": "100"},
    "fleet:new-lot": {"quantity": "200", "expires_on": "2026-03-05", "densities": "20 1.09"},
    "fleet:new-uplift": {"amount": "20"},
    "fleet:password": {"new_password": "seven grey herons"},
    "fleet:post-flight": {"minutes": "1:00"},
    "fleet:reading": {"value": "1002:00"},
    "records:run-at-hand": {"amount": "22"},
    "records:sign": {"username": "ours-inspector"},
    "scheduling:flying-plans": {"minutes_per_day": "1:00", "to_day": "2025-03-20"},
    "scheduling:grant-variation": {"amount": "1:00"},
    "scheduling:ground-times": {"first_day": "2025-03-20", "last_day": "2025-03-21"},
    "scheduling:last-done": {"day": "2025-03-02", "hours": "990:00"},
    "scheduling:new-requirement": {"ata": "05-10", "limit_1_measure": "months", "limit_1_every": "12"},
    "scheduling:new-variation-table": {"bands": "hours - 1000:00 10 10:00"},
    "scheduling:procedure-new": {"ata": "30-10", "steps-0-title": "Look"},
    "scheduling:relief-category": {"code": "D"},
    "scheduling:rule-new": {"raises-0-procedure_code": "panel-purge", "raises-0-before": "next_flight"},
    "scheduling:shifts": {"first_day": "2025-03-17", "last_day": "2025-03-18"},
    "scheduling:webhooks": {"url": "https://sink.example/new"},
}


def signed_amendment(scene: Scene) -> Mapping[str, Any]:
    """What the second page of an amendment sends, once its text was read."""
    body = amending(scene)
    return {**body, "digest": body["content_digest"]}


def programme_file(scene: Scene) -> Mapping[str, Any]:
    """A file that was looked at before."""
    return {"file": programme(scene)["file"], "mapping": "", "bring_in": "on"}


# What is not written but chosen from the disk, or was shown a page before.
FROM_ELSEWHERE: dict[str, Callable[[Scene], Mapping[str, Any]]] = {
    "fleet:flight-imports": flights,
    "records:amend": signed_amendment,
    "scheduling:programme-import": programme_file,
}
TRIED_AT_MOST = 5


@dataclass
class Shown:
    """One kind of form as one person was shown it, at the first few addresses it goes to."""

    role: Role
    forms: list[Form]


def shown_forms(visits: Visits) -> dict[str, list[Shown]]:
    """Every kind of form of every page for everybody, by the name of its door."""
    kinds: dict[object, Shown] = {}
    found: dict[str, list[Shown]] = defaultdict(list)
    for role, page, form in _forms_of_pages(visits):
        try:
            name = resolve(form.action.split("?")[0]).view_name
        except Resolver404:
            pytest.fail(f"a form on {page} leads nowhere: {form.action}")
        kind = (role, name, tuple(form.most), re.sub(r"\d+", "", str(form.most.get("do"))))
        if kind not in kinds:
            kinds[kind] = Shown(role, [])
            found[name].append(kinds[kind])
        if form.action not in [known.action for known in kinds[kind].forms[-TRIED_AT_MOST:]]:
            kinds[kind].forms = [*kinds[kind].forms, form][:TRIED_AT_MOST]
    return found


def pages_of(scene: Scene) -> list[str]:
    """The addresses of every page, with the operator's own things in them."""
    pages = [address_of(scene, door) for door in READS if not NO_PAGE.search(f"/{door.path}")]
    return [*pages, *(also(scene) for also in ALSO)]


def _forms_of_pages(visits: Visits) -> Iterator[tuple[Role, str, Form]]:
    for page in pages_of(visits.scene):
        for role in WORKERS:
            for form in forms_of(visits.text(role, page), page):
                if form.method == "post":
                    yield role, page, form


def filled(scene: Scene, form: Form, name: str) -> Iterator[dict[str, Any]]:
    """The least somebody would send, and the most."""
    by_hand = {field: value for field, value in BY_HAND.get(name, {}).items() if field in form.most}
    for sent in (form.least, form.most):
        elsewhere = FROM_ELSEWHERE[name](scene) if name in FROM_ELSEWHERE else {}
        yield {**sent, **by_hand, **elsewhere}
