"""The API's doors to sealed records: list, read, exact text, paper, check, amend, hand out."""

import hashlib
import json
import zipfile
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader
from rest_framework.test import APIClient

from fleet.common.actor import Role
from fleet.models import FlightEntry, TrailEntry
from fleet.services.configuration import NewComponent
from records.models import SignedRecord
from scheduling.services.tasks import WantedTask, raise_task
from tests.makers import PASSWORD, FlightMaker, api_of, at, make_house
from tests.records.guards import without_guards
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report("panel-replaced", position_code="panel-left", new_component=panel())
    shop.do_purge(at(0, 1))
    shop.do_flow_test(at(0, 3))
    return shop


def panel() -> Any:
    return NewComponent("porous-panel", "30-110-1", "N-777")


@pytest.fixture
def api(shop: Workshop) -> APIClient:
    return api_of(shop.house.person(Role.AUDITOR))


def number(shop: Workshop, sequence: int = 2) -> str:
    return f"{shop.aircraft.registration}-{sequence:06d}"


def words_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).replace("\xa0", " ")


def test_records_are_listed_newest_first_and_filtered(shop: Workshop, api: APIClient) -> None:
    def found(query: str = "") -> list[str]:
        return [row["number"] for row in api.get(f"/api/v1/records/{query}").json()["results"]]

    assert found() == [number(shop, 2), number(shop, 1)]
    assert found("?procedure=panel-purge") == [number(shop, 1)]
    assert found("?verdict=fail") == []
    assert found(f"?aircraft={shop.aircraft.registration.lower()}&search=flow") == [number(shop, 2)]
    assert found("?since=2025-03-04") == []
    assert found("?until=2025-03-03&kind=work") == [number(shop, 2), number(shop, 1)]


def test_a_filter_that_makes_no_sense_names_its_field(api: APIClient) -> None:
    answer = api.get("/api/v1/records/?since=yesterday&kind=novel")
    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == {"#/since", "#/kind"}


def test_pages_of_records_go_on_from_a_cursor(shop: Workshop, api: APIClient) -> None:
    first = api.get("/api/v1/records/?limit=1").json()
    second = api.get(first["next"]).json()
    assert [row["number"] for row in (*first["results"], *second["results"])] == [
        number(shop, 2),
        number(shop, 1),
    ]


def test_the_exact_text_gives_the_digest(shop: Workshop, api: APIClient) -> None:
    answer = api.get(f"/api/v1/records/{number(shop)}/canonical/")
    record = SignedRecord.objects.get(sequence=2)
    assert hashlib.sha256(answer.content).hexdigest() == record.digest
    assert answer["ETag"] == f'"{record.digest}"'
    again = api.get(f"/api/v1/records/{number(shop)}/canonical/", headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304


def test_a_record_is_read_in_full_with_its_signatures(shop: Workshop, api: APIClient) -> None:
    read = api.get(f"/api/v1/records/{number(shop)}/").json()
    assert [row["meaning"] for row in read["signatures"]] == [
        "performed the work as described",
        "inspected the work independently",
    ]
    assert read["payload"]["task"]["events"][0]["component_on"].endswith("part 30-110-1, serial N-777")
    assert (read["amended_by"], read["amends"]) == ([], "")


def test_the_paper_says_what_was_sealed(shop: Workshop, api: APIClient) -> None:
    answer = api.get(f"/api/v1/records/{number(shop)}/pdf/")
    assert answer["Content-Type"] == "application/pdf"
    words = words_of(answer.content)
    record = SignedRecord.objects.get(sequence=2)
    for expected in (
        number(shop),
        "Panel flow test",
        "Work instruction 30-102",
        "1500 mL",
        "1250 to 1950 mL",
        "PASS",
        shop.house.person(Role.INSPECTOR).full_name,
        "maintenance licence B1",
        record.digest[:16],
        "serial N-777",
        shop.cylinder.code,
        shop.lot.batch,
        "licensed staff decide",
    ):
        assert expected in words, expected


def test_the_same_record_gives_the_same_paper_byte_for_byte(shop: Workshop, api: APIClient) -> None:
    address = f"/api/v1/records/{number(shop)}/pdf/"
    assert api.get(address).content == api.get(address).content


def test_a_failed_run_says_so_on_its_paper(shop: Workshop, api: APIClient) -> None:
    shop.report("line-opened", at(1))
    shop.do_purge(at(1, 1))
    record = shop.do_flow_test(at(1, 3), "1000", "1010", "27.0")
    words = words_of(api.get(f"/api/v1/records/{record.number}/pdf/").content)
    assert "INVALID" in words
    assert "The readings alone came to FAIL." in words
    assert "−250 mL" in words


def test_a_changed_record_is_shown_as_broken(shop: Workshop, api: APIClient) -> None:
    statement = (
        "UPDATE records_signedrecord SET canonical = replace(canonical, '1510', '1900') WHERE sequence = 2"
    )
    with without_guards("records_signedrecord"), connection.cursor() as cursor:
        cursor.execute(statement)
    assert api.get(f"/api/v1/records/{number(shop)}/").json()["is_whole"] is False
    assert "Seal broken" in words_of(api.get(f"/api/v1/records/{number(shop)}/pdf/").content)


def test_an_unreadable_record_is_refused_in_words_and_spoils_no_archive(
    shop: Workshop, api: APIClient
) -> None:
    with without_guards("records_signedrecord"), connection.cursor() as cursor:
        cursor.execute("UPDATE records_signedrecord SET canonical = 'lost' WHERE sequence = 2")
    read = api.get(f"/api/v1/records/{number(shop)}/")
    assert (read.status_code, read.json()["code"]) == (409, "record_broken")
    answer = api.get(f"/api/v1/aircraft/{shop.aircraft.registration}/export/")
    files = unpacked(b"".join(answer.streaming_content))
    assert f"records/{number(shop, 1)}.pdf" in files
    assert b"cannot be read" in files[f"records/{number(shop, 2)}.broken.txt"]
    assert b"things wrong" in files["README.txt"]


def test_a_record_is_amended_with_a_password(shop: Workshop) -> None:
    api = api_of(shop.house.person(Role.TECHNICIAN))
    here = f"/api/v1/records/{number(shop)}/"
    draft = {"reason": "cylinder misread", "text": "Cylinder two was used."}
    shown = api.post(f"{here}amendment-content/", draft).json()
    body = draft | {"content_digest": shown["digest"], "password": PASSWORD}
    assert api.post(f"{here}amendments/", body | {"password": "wrong"}).status_code == 403
    assert SignedRecord.objects.count() == 2
    answer = api.post(f"{here}amendments/", body)
    assert (answer.status_code, answer.json()["number"]) == (201, number(shop, 3))
    assert api.get(here).json()["amended_by"] == [number(shop, 3)]
    old, new = (words_of(api.get(f"/api/v1/records/{number(shop, n)}/pdf/").content) for n in (2, 3))
    assert f"Amended by {number(shop, 3)}" in old
    assert "Cylinder two was used." in new


@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.AUDITOR, Role.ADMINISTRATOR])
def test_amending_over_the_api_is_for_those_who_sign(shop: Workshop, role: Role) -> None:
    body = {"reason": "r", "text": "t", "content_digest": "0" * 64, "password": PASSWORD}
    answer = api_of(shop.house.person(role)).post(f"/api/v1/records/{number(shop)}/amendments/", body)
    assert (answer.status_code, SignedRecord.objects.count()) == (403, 2)


def test_a_chain_is_checked_on_request(shop: Workshop, api: APIClient) -> None:
    one = api.get(f"/api/v1/records/{number(shop)}/verification/").json()
    every = api.post("/api/v1/verification/").json()
    assert (one["is_whole"], one["records"], one["flaws"]) == (True, 2, [])
    assert every == [one]


ADDRESSES = [
    "records/{number}/",
    "records/{number}/canonical/",
    "records/{number}/pdf/",
    "records/{number}/verification/",
    "aircraft/{aircraft}/status-items/",
    "aircraft/{aircraft}/status-items/pdf/",
    "aircraft/{aircraft}/export/",
    "trends/{aircraft}/panel-flow-test/flow-left/",
    "trends/{aircraft}/panel-flow-test/flow-left/pdf/",
]


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_role_reads_and_strangers_find_nothing(shop: Workshop, address: str) -> None:
    here = "/api/v1/" + address.format(number=number(shop), aircraft=shop.aircraft.registration)
    for role in Role:
        assert api_of(shop.house.person(role)).get(here).status_code == 200
    assert api_of(make_house().person(Role.DIRECTOR)).get(here).status_code == 404
    assert api_of().get(here).status_code == 401


def more_records(shop: Workshop, number_of: int, start: int) -> None:
    for each in range(start, start + number_of):
        wanted = WantedTask(shop.aircraft.pk, "panel-purge", "Panel purge", "for the test")
        raise_task(actor=shop.house.actor(Role.DIRECTOR), wanted=wanted)
        shop.do_purge(at(each))


@pytest.mark.parametrize("address", ["/api/v1/records/", "/api/v1/trends/"])
def test_ten_rows_and_twenty_cost_the_same_queries(shop: Workshop, api: APIClient, address: str) -> None:
    more_records(shop, 8, 2)
    with CaptureQueriesContext(connection) as ten:
        api.get(address)
    more_records(shop, 10, 20)
    with CaptureQueriesContext(connection) as twenty:
        api.get(address)
    assert len(twenty) == len(ten)
    assert len(api.get("/api/v1/records/").json()["results"]) == 20


def test_the_status_items_stand_under_all_six_headings(shop: Workshop, api: APIClient) -> None:
    """14 CFR 91.417(a)(2)(i) to (vi): a report lacking one of the six is not a status report."""
    data = api.get(f"/api/v1/aircraft/{shop.aircraft.registration}/status-items/").json()
    assert [item["number"] for item in data["items"]] == ["i", "ii", "iii", "iv", "v", "vi"]
    assert data["items"][0]["rows"][0] == {
        "what": "airframe",
        "serial_number": shop.aircraft.serial_number,
        "hours": "1000:00",
        "landings": "1200",
        "cycles": "1200",
    }
    paper = words_of(api.get(f"/api/v1/aircraft/{shop.aircraft.registration}/status-items/pdf/").content)
    for item in data["items"]:
        assert f"({item['number']}) " in paper


def unpacked(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(BytesIO(content)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def test_the_archive_holds_everything_and_proves_it(shop: Workshop, api: APIClient) -> None:
    FlightMaker(aircraft=shop.aircraft, reference="=1+1", off_at=at(2), day=at(2).date())
    answer = api.get(f"/api/v1/aircraft/{shop.aircraft.registration}/export/")
    files = unpacked(b"".join(answer.streaming_content))
    manifest = json.loads(files["manifest.json"])
    assert hashlib.sha256(files["manifest.json"]).hexdigest() == answer["X-Manifest-SHA256"]
    listed = {entry["path"]: entry["sha256"] for entry in manifest["files"]}
    assert listed == {
        path: hashlib.sha256(content).hexdigest()
        for path, content in files.items()
        if path != "manifest.json"
    }
    for record in SignedRecord.objects.all():
        assert listed[f"records/{record.number}.json"] == record.digest
        assert files[f"records/{record.number}.pdf"].startswith(b"%PDF")
    wanted = {
        "README.txt",
        "status.json",
        "status.pdf",
        "configuration.csv",
        "installations.csv",
        "meters.csv",
    }
    assert wanted | {"flights.csv", "events.csv", "tasks.csv", "records.csv"} <= set(files)
    assert [item["number"] for item in json.loads(files["status.json"])["items"]] == [
        "i",
        "ii",
        "iii",
        "iv",
        "v",
        "vi",
    ]
    assert b"'=1+1" in files["flights.csv"]
    assert b"panel-replaced" in files["events.csv"]
    assert b"2 records, whole" in files["README.txt"]
    assert len([path for path in files if path.startswith("photos/")]) == 1
    line = TrailEntry.objects.get(action="export_aircraft")
    assert line.actor_id == shop.house.person(Role.AUDITOR).pk


def test_after_a_sale_the_archive_says_who_keeps_the_papers(shop: Workshop, api: APIClient) -> None:
    """14 CFR 91.419(b): the buyer may let the seller keep custody, and still answers for availability."""
    here = f"/api/v1/aircraft/{shop.aircraft.registration}/export/"
    kept, given = (
        unpacked(b"".join(api.get(address).streaming_content))["README.txt"].decode()
        for address in (f"{here}?custody=seller", here)
    )
    assert "seller keep physical custody" in kept
    assert "go with the aircraft" in given


def test_the_command_writes_the_archive_and_notes_it(shop: Workshop, tmp_path: Path) -> None:
    out = StringIO()
    call_command("export_aircraft", shop.aircraft.registration.lower(), folder=str(tmp_path), stdout=out)
    (place,) = tmp_path.iterdir()
    files = unpacked(place.read_bytes())
    assert f"records/{number(shop)}.json" in files
    assert "2 records, manifest" in out.getvalue()
    assert TrailEntry.objects.get(action="export_aircraft").actor_name == "system: export_aircraft"


@pytest.mark.parametrize(
    ("registration", "folder", "words"),
    [("QX-NIL", ".", "is no aircraft here"), (None, "/nowhere/at/all", "There is no folder")],
)
def test_the_command_says_what_is_wrong(
    shop: Workshop, registration: str | None, folder: str, words: str
) -> None:
    with pytest.raises(CommandError, match=words):
        call_command("export_aircraft", registration or shop.aircraft.registration, folder=folder)
    assert FlightEntry.objects.count() == TrailEntry.objects.filter(action="export_aircraft").count() == 0


def test_a_trend_is_read_with_its_figures_and_printed(shop: Workshop, api: APIClient) -> None:
    here = f"/api/v1/trends/{shop.aircraft.registration}/panel-flow-test/flow-right/"
    read = api.get(here).json()
    assert (read["point"], [line["key"] for line in read["lines"]]) == (
        "flow-difference",
        ["flow-left", "flow-right"],
    )
    assert read["lines"][1]["readings"][0]["written"] == "1510"
    assert [channel["trend"] for channel in read["channels"]] == ["baseline_forming", "baseline_forming"]
    words = words_of(api.get(f"{here}pdf/").content)
    assert "1 of 6 valid tests for the baseline" in words
    listed = api.get("/api/v1/trends/").json()["results"]
    assert [row["channel"] for row in listed] == ["balance", "together"]
