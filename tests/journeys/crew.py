"""People who work through the API alone, as programs of other hands would."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from fleet.models import Position
from fleet.selectors.aircraft import options_of, outlets_of
from records.management.demo.picture import picture_of
from records.management.demo.scenario import Scenario
from scheduling.models import Task
from scheduling.steps.parse import procedure_from_data
from scheduling.steps.terms import Step, StepKind

PASSES: dict[str, Any] = {
    "bus-voltage": ("28.1", "V"),
    "fluid-temperature": ("15.0", "degC"),
    "level-error": ("0.4", "L"),
    "left": "1480",
    "right": "1510",
}


class Crew:
    """Clients by login name, and the steps of the story that every journey needs."""

    def __init__(self, scenario: Scenario, passwords: Mapping[str, str]) -> None:
        self.scenario = scenario
        self.passwords = passwords
        self.clients: dict[str, APIClient] = {}

    def client(self, username: str) -> APIClient:
        """The API client of one person."""
        if username not in self.clients:
            self.clients[username] = APIClient()
            self.clients[username].force_login(self.scenario.people[username])
        return self.clients[username]

    def report(self, username: str, registration: str, kind: str, **more: Any) -> dict[str, Any]:
        """Report an event that happened just now."""
        body = {"aircraft": registration, "kind": kind, "at": moment(), "key": str(uuid.uuid4()), **more}
        answer = self.client(username).post("/api/v1/events/", body)
        assert answer.status_code == 201, answer.json()
        return dict(answer.json())

    def status(self, registration: str) -> str:
        """The operating status as the API says it."""
        answer = self.client("edda").get(f"/api/v1/aircraft/{registration}/status/")
        assert answer.status_code == 200, answer.content
        return str(answer.json()["state"])

    def tasks(self, registration: str) -> dict[str, dict[str, Any]]:
        """Open tasks of an aircraft by procedure."""
        rows = self.client("edda").get("/api/v1/tasks/", {"aircraft": registration}).json()["results"]
        return {row["procedure"]: row for row in rows if row["state"] not in ("closed", "withdrawn")}

    def open_run(self, username: str, task: int) -> Any:
        """Open a run; the answer, whatever it is."""
        body = {"task": task, "key": str(uuid.uuid4()), "started_at": moment()}
        return self.client(username).post("/api/v1/runs/", body)

    def work(self, username: str, task: int, readings: Mapping[str, Any] = PASSES) -> dict[str, Any]:
        """Work a whole procedure and finish it; the finished run."""
        opened = self.open_run(username, task)
        assert opened.status_code == 201, opened.json()
        here = f"/api/v1/runs/{opened.json()['id']}/"
        row = Task.objects.select_related("aircraft", "procedure_version").get(pk=task)
        content = procedure_from_data(row.procedure_version.content)  # type: ignore[union-attr]
        self._provide(username, here, row, content)
        for step in content.steps_for(options_of(row.aircraft)):
            if step.needs_answer:
                self._answer(username, here, row, step, {**PASSES, **readings})
        finished = self.client(username).post(f"{here}finish/", {})
        assert finished.status_code == 200, finished.json()
        return dict(finished.json())

    def _provide(self, username: str, here: str, row: Task, content: Any) -> None:
        base = row.aircraft.base.code
        spare = {key: list(rows) for key, rows in self.scenario.equipment.items()}
        for need in content.equipment_for(options_of(row.aircraft)):
            tool = spare[base, need.kind].pop(0)
            body = {"role": need.role, "equipment": tool.pk}
            answer = self.client(username).post(f"{here}equipment/", body)
            assert answer.status_code == 200, answer.json()
        if content.fluid is not None:
            lot = next(
                lot
                for lot in self.scenario.lots[base]
                if lot.state == "approved" and lot.expires_on > today()
            )
            body = {"lot": lot.pk, "amount": "40", "unit": "L"}
            answer = self.client(username).post(f"{here}lots/", body)
            assert answer.status_code == 200, answer.json()

    def _answer(self, username: str, here: str, row: Task, step: Step, readings: Mapping[str, Any]) -> None:
        key = str(uuid.uuid4())
        if step.kind is StepKind.PHOTO:
            file = SimpleUploadedFile("p.png", picture_of(row.aircraft.registration), "image/png")
            upload = {"step": step.key, "key": key, "taken_at": moment(), "file": file}
            sent = self.client(username).post(f"{here}photos/", upload, format="multipart")
            assert sent.status_code == 201, sent.json()
        body = {
            "step": step.key,
            "key": key,
            "captured_at": moment(),
            "answer": answer_to(row, step, readings, key),
        }
        answer = self.client(username).post(f"{here}answers/", body)
        assert answer.status_code == 201, (step.key, answer.json())

    def sign(self, username: str, run: int, meaning: str = "performed") -> Any:
        """Sign what is shown, with the fresh password; the answer."""
        client = self.client(username)
        digest = client.get(f"/api/v1/runs/{run}/content/").json()["digest"]
        body = {"meaning": meaning, "content_digest": digest, "password": self.passwords[username]}
        return client.post(f"/api/v1/runs/{run}/sign/", body)

    def work_and_sign(self, username: str, task: int, readings: Mapping[str, Any] = PASSES) -> dict[str, Any]:
        """Work, sign, and have it countersigned where the procedure asks."""
        run = self.work(username, task, readings)
        signed = self.sign(username, run["id"])
        assert signed.status_code in (200, 201), signed.json()
        if not signed.json()["is_sealed"]:
            inspector = "aldis" if username != "aldis" else "corin"
            signed = self.sign(inspector, run["id"], "inspected")
            assert signed.status_code in (200, 201), signed.json()
        assert signed.json()["is_sealed"]
        return {**run, "record": signed.json()["record"]}


def moment(seconds: int = 0) -> str:
    """A moment so many seconds from now, as written on the wire."""
    return (datetime.now(UTC) + timedelta(seconds=seconds)).isoformat()


def today() -> Any:
    """The day in UTC."""
    return datetime.now(UTC).date()


def answer_to(row: Task, step: Step, readings: Mapping[str, Any], key: str) -> dict[str, Any]:
    """A good answer to any kind of step, with the readings given."""
    match step.kind:
        case StepKind.CHECK | StepKind.SET_CONTROL:
            return {"done": True}
        case StepKind.READ_VALUE:
            value, unit = readings[step.point]
            return {"value": value, "unit": unit}
        case StepKind.TIMED_RUN:
            seconds = int(step.seconds or 0)
            return {"started_at": moment(-seconds), "stopped_at": moment()}
        case StepKind.OUTLETS:
            places: list[Position] = list(outlets_of(row.aircraft, step.zones))
            return {"outlets": [{"position": place.code, "wet": True, "seconds": "60"} for place in places]}
        case StepKind.COLLECT:
            sides = {
                side: {"method": "volume", "value": readings[side], "unit": "mL"}
                for side, _ in step.side_points
            }
            return {"sides": sides}
        case StepKind.CAUTION:
            return {"acknowledged": True}
        case StepKind.PHOTO:
            return {"photo_key": key}
    raise AssertionError(step.kind)
