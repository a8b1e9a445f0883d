"""The doors of due list and programme: who gets in, what they answer, and that nothing is written when refused."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from openpyxl import load_workbook

from fleet.common.actor import Role
from scheduling.models import (
    Applicability,
    DueFact,
    FlyingPlan,
    Relief,
    ReliefCategory,
    Requirement,
    SavedView,
    Task,
    Variation,
    VariationTable,
)
from scheduling.services.due import refresh_due
from tests.makers import House, api_of, make_house
from tests.scheduling.due.makers import HUNDRED_HOURS, apply, make_procedure, make_requirement
from tests.words import plain

pytestmark = pytest.mark.django_db
TABLES = (Applicability, FlyingPlan, Relief, ReliefCategory, Requirement, Task, Variation, VariationTable)
LINE = {
    "code": "annual",
    "title": "Annual",
    "ata": "05-10",
    "source": "P3",
    "limits": {"measure": "months", "every": 12},
}
TABLE = {"name": "T", "source": "S", "approval": "A", "bands": [{"measure": "hours", "percent": "10"}]}
RELIEF = {
    "aircraft": "QX-SKA",
    "category": "C",
    "item": "30-11",
    "reference": "MEL 4",
    "recorded_at": "2025-03-03T12:00:00Z",
}
PLAN = {
    "aircraft": "QX-SKA",
    "from_day": "2025-03-03",
    "to_day": "2025-03-09",
    "minutes_per_day": 60,
    "landings_per_day": "2",
}
PROGRAMME = {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR}
OFFICE = {Role.CONTROLLER, Role.DIRECTOR}


@pytest.fixture
def house() -> House:
    house = make_house(registration="QX-SKA", minutes=65_500)
    table = VariationTable.objects.create(operator=house.operator, **TABLE)
    row = make_requirement(house.operator, procedure=make_procedure(house.operator), variation_table=table)
    apply(row, house.aircraft, day=date(2025, 3, 1), hours=60_000)
    ReliefCategory.objects.create(operator=house.operator, code="C", days=10, source="MEL")
    refresh_due()
    return house


def item() -> Applicability:
    return Applicability.objects.get()


DOORS = [
    ("requirements/", LINE, PROGRAMME),
    ("requirements/check-100/apply/", {}, PROGRAMME),
    ("programme-applications/", {}, PROGRAMME),
    ("requirements/check-100/retire/", {"reason": "r"}, PROGRAMME),
    ("due/{item}/stop/", {"reason": "r"}, PROGRAMME),
    ("due/raise-tasks/", {}, OFFICE),
    ("variation-tables/", TABLE, {Role.DIRECTOR}),
    ("variations/", {"item": "{item}", "amount": "1:00", "reason": "r"}, {Role.DIRECTOR}),
    ("reliefs/", RELIEF, OFFICE),
    ("relief-categories/", {"code": "B", "days": 3, "source": "MEL"}, {Role.DIRECTOR}),
    ("flying-plans/", PLAN, OFFICE),
]


@pytest.mark.parametrize("role", list(Role))
def test_each_role_may_do_what_is_its_own_and_a_refusal_writes_nothing(house: House, role: Role) -> None:
    pk = item().pk
    before = [list(table.objects.order_by("pk").values()) for table in TABLES]
    client = api_of(house.person(role))
    for address, body, allowed in DOORS:
        sent = {name: pk if value == "{item}" else value for name, value in body.items()}
        undo = transaction.savepoint()
        answer = client.post(f"/api/v1/{address.format(item=pk)}", sent)
        if role in allowed:
            assert answer.status_code in (200, 201, 204), (address, answer.content)
        else:
            assert answer.status_code == 403, address
            assert [list(table.objects.order_by("pk").values()) for table in TABLES] == before
        transaction.savepoint_rollback(undo)


READ = (
    "due/", "due/counts/", "due/{item}/", "due/without-last-done/", "due/export.csv", "requirements/",
    "requirements/check-100/", "requirements/check-100/versions/", "requirements/check-100/items/",
    "variations/", "variation-tables/", "reliefs/", "relief-categories/", "flying-plans/", "due-views/",
)  # fmt: skip


def test_everybody_reads_and_nobody_without_signing_in(house: House) -> None:
    paths = [f"/api/v1/{address.format(item=item().pk)}" for address in READ]
    for role in Role:
        client = api_of(house.person(role))
        assert [client.get(path).status_code for path in paths] == [200] * len(paths)
    nobody = api_of()
    assert all(nobody.get(path).status_code in (401, 403) for path in paths)


def test_a_stranger_finds_nothing(house: House) -> None:
    client = api_of(make_house().person("director"))
    assert client.get("/api/v1/due/").json()["results"] == []
    assert client.get(f"/api/v1/due/{item().pk}/").status_code == 404
    assert client.get("/api/v1/requirements/check-100/").status_code == 404
    assert client.post(f"/api/v1/due/{item().pk}/stop/", {"reason": "r"}).status_code == 404


def test_a_page_says_why_in_the_same_words_as_the_item(house: House) -> None:
    client = api_of(house.person("technician"))
    row = client.get("/api/v1/due/").json()["results"][0]
    found = client.get(f"/api/v1/due/{row['id']}/")
    assert found.json()["row"]["explanation"] == row["explanation"]
    assert plain(row["words"]) == "flight hours: 8:20 h left, due at 1 100:00 h"
    assert found["ETag"] == f'"due-{row["id"]}-1-1"'


def test_a_line_is_edited_only_by_who_read_it(house: House) -> None:
    client = api_of(house.person("controller"))
    change = {"title": "Check", "ata": "05-20", "source": "P4", "limits": HUNDRED_HOURS}
    path = "/api/v1/requirements/check-100/"
    assert client.put(path, change).status_code == 428
    tag = client.get(path)["ETag"]
    assert client.put(path, change, headers={"If-Match": tag}).json()["version"] == 2
    assert client.put(path, change, headers={"If-Match": tag}).status_code == 412
    assert Requirement.objects.get(is_current=True).version == 2


def test_a_fault_points_to_its_field_with_value_and_remedy(house: House) -> None:
    line = LINE | {"limits": {"combine": "first", "of": [{"measure": "hours", "every": "0:00"}]}}
    answer = api_of(house.person("controller")).post("/api/v1/requirements/", line)
    assert answer.status_code == 422
    assert answer.json()["errors"][0] == {
        "detail": "is zero or below",
        "pointer": "#/limits/of[0]/every",
        "value": "0:00",
        "remedy": "write a limit above zero",
    }


def test_a_last_done_is_entered_over_the_door(house: House) -> None:
    client = api_of(house.person("controller"))
    path = f"/api/v1/due/{item().pk}/"
    sent = {"day": "2025-03-02", "counters": {"hours": "1010:30"}, "proof": "card 3"}
    tag = client.get(path)["ETag"]
    answer = client.put(f"{path}last-done/", sent, headers={"If-Match": tag})
    assert plain(answer.json()["last_done"]) == "2 Mar 2025 at 1 010:30 h"
    assert DueFact.objects.get().due_minutes == 66_630
    future = client.put(f"{path}last-done/", sent | {"day": "2999-01-01"}, headers={"If-Match": "*"})
    assert future.json()["errors"][0]["pointer"] == "#/last_done/day"


def test_a_variation_sent_twice_with_one_key_is_granted_once(house: House) -> None:
    client = api_of(house.person("director"))
    sent = {"item": item().pk, "amount": "5:00", "reason": "no bay"}
    answers = [client.post("/api/v1/variations/", sent, headers={"Idempotency-Key": "k1"}) for _ in range(2)]
    assert [one.status_code for one in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert Variation.objects.count() == 1


def test_files_hold_the_rows_and_no_formula(house: House) -> None:
    Requirement.objects.update(title='=HYPERLINK("http://x")')
    refresh_due()
    client = api_of(house.person("auditor"))
    text = b"".join(client.get("/api/v1/due/export.csv").streaming_content).decode()
    rows = list(csv.DictReader(io.StringIO(text)))
    assert rows[0]["Title"] == '\'=HYPERLINK("http://x")'
    assert (rows[0]["Aircraft"], rows[0]["State"], rows[0]["Due at flight hours"]) == (
        "QX-SKA",
        "Due soon",
        "1100:00",
    )
    sheet = load_workbook(io.BytesIO(client.get("/api/v1/due/export.xlsx").content)).active
    cell = sheet["D2"]
    assert (cell.value, cell.data_type) == ('=HYPERLINK("http://x")', "s")
    paper = client.get("/api/v1/due/export.pdf")
    assert paper.content.startswith(b"%PDF-")


def test_views_are_kept_by_person_and_shared_on_wish(house: House) -> None:
    mine = api_of(house.person("controller"))
    sent = {"name": "My icing items", "query": {"consequence": "icing", "window": "30"}}
    assert mine.post("/api/v1/due-views/", sent).status_code == 201
    theirs = api_of(house.person("director"))
    assert theirs.get("/api/v1/due-views/").json() == []
    mine.post("/api/v1/due-views/", sent | {"is_shared": True})
    assert theirs.get("/api/v1/due-views/").json()[0]["query"] == {
        "consequence": "icing", "window": 30, "sort": "due"
    }  # fmt: skip
    view = SavedView.objects.get()
    assert theirs.delete(f"/api/v1/due-views/{view.pk}/").status_code == 404
    assert mine.delete(f"/api/v1/due-views/{view.pk}/").status_code == 204
    assert mine.post("/api/v1/due-views/", {"name": "x", "query": {"state": "purple"}}).status_code == 422


def test_a_programme_file_is_looked_at_and_brought_in(house: House) -> None:
    client = api_of(house.person("controller"))
    text = b"code,title,ata,source,months\nannual,Annual,05-10,P3,600\nbad,Bad,05-10,P3,0\n"

    def send(content: bytes, **values: str) -> dict:
        file = SimpleUploadedFile("p.csv", content)
        return client.post(
            "/api/v1/programme-imports/", {"kind": "programme", "file": file, **values}, format="multipart"
        ).json()

    looked = send(text)
    assert (looked["created"], looked["written"]) == (1, False)
    assert looked["errors"][0] == {
        "row": 3, "column": "months", "value": "0", "detail": "is zero or below", "remedy": "write a limit above zero"
    }  # fmt: skip
    assert send(text, dry_run="false")["code"] == "import_refused"
    assert send(text.rsplit(b"bad", 1)[0], dry_run="false")["written"] is True
    assert Requirement.objects.filter(code="annual").exists()


def test_what_if_over_the_door(house: House) -> None:
    client = api_of(house.person("technician"))
    flown = client.post("/api/v1/due/what-if/", {"aircraft": "QX-SKA", "minutes_per_day": 60})
    assert flown.json()["changes"][0]["code"] == "check-100"
    assert client.post(f"/api/v1/due/{item().pk}/what-if/", {}).status_code == 422
    longer = client.post(
        f"/api/v1/due/{item().pk}/what-if/", {"limits": {"measure": "hours", "every": "200:00"}}
    )
    assert longer.json()["changes"][0]["state_after"] == "Not due yet"
