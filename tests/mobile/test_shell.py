"""The phone's page, manifest, worker and doors, as the server gives them out."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

from records.mobile.program import program
from tests.makers import PASSWORD, Role, make_house

pytestmark = pytest.mark.django_db


def test_anybody_may_fetch_the_shell_because_it_holds_no_data():
    response = Client().get("/mobile/")
    assert response.status_code == 200
    assert response["Cache-Control"] == "no-cache"
    assert "style=" not in response.content.decode()
    assert "default-src 'self'" in response["Content-Security-Policy"]


def test_the_worker_is_served_under_its_own_scope_with_every_file_of_the_program():
    response = Client().get("/mobile/sw.js")
    assert response["Content-Type"] == "text/javascript"
    what = json.loads(response.content.decode().split("\n")[0].removeprefix("const PROGRAM = ").rstrip(";"))
    assert what["shell"] == "/mobile/"
    assert "/static/records/mobile/app.js" in what["files"]
    assert "/static/records/mobile/sw.js" not in what["files"]
    missing = [
        each
        for each in (*what["files"], *what["sometimes"])
        if not finders.find(each.removeprefix("/static/"))
    ]
    assert missing == []


def test_the_manifest_makes_the_program_installable():
    manifest = Client().get("/mobile/manifest.webmanifest").json()
    assert manifest["scope"] == manifest["start_url"] == "/mobile/"
    assert manifest["display"] == "standalone"
    for icon in manifest["icons"]:
        found = finders.find(icon["src"].removeprefix("/static/"))
        width, height = struct.unpack(">II", Path(found).read_bytes()[16:24])
        assert icon["sizes"] == f"{width}x{height}"


def test_the_version_names_the_whole_program():
    assert len(program().version) == 16
    assert program().version in Client().get("/mobile/sw.js").content.decode()


def test_labels_lead_into_the_program():
    assert Client().get("/q/a/QX-SKA/")["Location"] == "/mobile/#/aircraft/QX-SKA"
    assert Client().get("/q/c/17/")["Location"] == "/mobile/#/component/17"


def test_the_session_says_who_is_signed_in_and_what_time_it_is():
    client = Client()
    nobody = client.get("/api/v1/phone/session/").json()
    assert nobody["person"] is None
    assert nobody["token"]
    house = make_house()
    client.force_login(house.person(Role.TECHNICIAN))
    somebody = client.get("/api/v1/phone/session/").json()["person"]
    assert somebody["base"] == house.base.code
    assert somebody["may"] == ["perform", "sign", "report_event"]


def sign_in(client: Client, username: str, password: str):
    token = client.get("/api/v1/phone/session/").json()["token"]
    body = {"username": username, "password": password}
    return client.post(
        "/api/v1/phone/sign-in/", body, content_type="application/json", headers={"X-CSRFToken": token}
    )


def test_signing_in_needs_the_right_password_and_locks_out_after_five_failures():
    person = make_house().person(Role.TECHNICIAN)
    client = Client(enforce_csrf_checks=True)
    wrong = sign_in(client, person.username, "not this")
    assert (wrong.status_code, wrong.json()["code"]) == (403, "wrong_sign_in")
    assert client.get("/api/v1/phone/session/").json()["person"] is None
    assert sign_in(client, person.username, PASSWORD).status_code == 204
    assert client.get("/api/v1/phone/session/").json()["person"]["id"] == person.pk
    other = Client()
    answers = [sign_in(other, person.username, "not this").json()["code"] for _ in range(6)]
    assert answers[-1] == "locked_out"
    assert sign_in(other, person.username, PASSWORD).json()["code"] == "locked_out"


def test_signing_in_without_the_cross_site_token_is_refused():
    person = make_house().person(Role.TECHNICIAN)
    client = Client(enforce_csrf_checks=True)
    body = {"username": person.username, "password": PASSWORD}
    response = client.post("/api/v1/phone/sign-in/", body, content_type="application/json")
    assert response.status_code == 403
    assert client.get("/api/v1/phone/session/").json()["person"] is None
