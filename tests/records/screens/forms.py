"""Filling in the forms of a run as a browser without scripts would."""

from datetime import UTC, datetime, timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from fleet.common.actor import Role
from records.models import BenchRun
from tests.makers import browser_of
from tests.records.makers import PNG, Workshop

OUTLETS = {
    "outlets.0.wet": "wet",
    "outlets.0.seconds": "45",
    "outlets.1.wet": "wet",
    "outlets.1.seconds": "50",
}
COLLECTED = {
    "sides.left.method": "volume",
    "sides.left.value": "1500",
    "sides.left.unit": "mL",
    "sides.left.mass_unit": "g",
    "sides.right.method": "volume",
    "sides.right.value": "1510",
    "sides.right.unit": "mL",
    "sides.right.mass_unit": "g",
}


def browser(workshop: Workshop, role: Role = Role.TECHNICIAN) -> Client:
    return browser_of(workshop.house.person(role))


def page_of(client: Client, run: BenchRun) -> str:
    return client.get(f"/runs/{run.pk}/").content.decode()


def begin(workshop: Workshop, client: Client) -> BenchRun:
    task = workshop.task("panel-flow-test")
    answer = client.post(f"/tasks/{task.pk}/start/", {"key": "k-start"})
    run = BenchRun.objects.get(task=task)
    assert answer.status_code == 302
    assert answer["Location"] == f"/runs/{run.pk}/"
    return run


def provide(workshop: Workshop, client: Client, run: BenchRun) -> Any:
    return client.post(
        f"/runs/{run.pk}/at-hand/",
        {
            "equipment-voltmeter": workshop.voltmeter.pk,
            "equipment-cylinder": workshop.cylinder.pk,
            "lot": workshop.lot.pk,
            "amount": "22.0",
            "unit": "L",
        },
    )


def answer(client: Client, run: BenchRun, step: str, key: str = "", **data: Any) -> Any:
    return client.post(f"/runs/{run.pk}/steps/{step}/", {"key": key or f"k-{step}", **data})


def watch_times() -> dict[str, str]:
    """Four minutes that ended a minute ago, in the base's own time (UTC), as a date field writes them."""
    end = datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=1)
    begun = end - timedelta(seconds=240)
    return {"started_at": f"{begun:%Y-%m-%dT%H:%M:%S}", "stopped_at": f"{end:%Y-%m-%dT%H:%M:%S}"}


def fill(workshop: Workshop, client: Client, run: BenchRun, **collected: str) -> None:
    provide(workshop, client, run)
    answer(client, run, "clear")
    answer(client, run, "power", done="yes")
    answer(client, run, "voltage", value="28.1", unit="V")
    answer(client, run, "wet", **OUTLETS)
    answer(client, run, "run", **watch_times())
    answer(client, run, "collect", **(COLLECTED | collected))
    answer(client, run, "picture", photo=SimpleUploadedFile("p.png", PNG, "image/png"))
