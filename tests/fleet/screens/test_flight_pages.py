"""The pages of flights, meters and flight files: what they do."""

from __future__ import annotations

import io
from typing import Any
from unittest.mock import patch

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError
from django.test import Client

from fleet.jobs import import_flight_files
from fleet.models import (
    FlightEntry,
    FlightUpload,
    Meter,
    Reading,
)
from fleet.screens import flight_files
from tests import makers
from tests.fleet.screens.places import COMMANDS, A, page_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(registration="QX-SKA")


def test_a_flight_is_posted_shown_and_taken_back_with_a_reason(house: makers.House) -> None:
    client = page_of(house)
    sent = {**COMMANDS["/flights/new/"][0], "aircraft": house.aircraft.pk, "minutes": "1.5"}

    client.post("/flights/new/", sent)
    entry = FlightEntry.objects.get()
    assert (entry.minutes, entry.off_at.isoformat()) == (90, "2025-03-01T09:00:00+00:00")
    assert "1:30" in client.get("/flights/").content.decode()
    client.post(f"/flights/{entry.pk}/void/", {"reason": "wrong aircraft"})

    assert "wrong aircraft" in client.get("/flights/?aircraft=QX-SKA").content.decode()
    assert Meter.objects.get(aircraft=house.aircraft, kind="minutes").value == 60_000


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"minutes": "0:00"}, "a flight lasts at least a minute"),
        ({"minutes": "1.33"}, "not a whole number of minutes"),
        ({"off_at": "2099-01-01T00:00"}, "lies in the future"),
        ({"reference": ""}, "Nothing was entered"),
    ],
)
def test_a_flight_that_cannot_be_stands_in_the_form_again(
    house: makers.House, change: dict[str, str], words: str
) -> None:
    sent = {**COMMANDS["/flights/new/"][0], "aircraft": house.aircraft.pk, **change}

    answer = page_of(house).post("/flights/new/", sent)

    assert words in answer.content.decode()
    assert FlightEntry.objects.count() == 0


def test_a_reading_below_what_is_known_needs_a_reason_and_becomes_a_correction(house: makers.House) -> None:
    client, meter = page_of(house), Meter.objects.get(aircraft=house.aircraft, kind="minutes")
    sent = {"at": "2025-03-05T09:00", "value": "999:00", "reason": ""}

    refused = client.post(f"/meters/{meter.pk}/", sent)
    assert refused.status_code == 422
    assert "below what is known" in refused.content.decode()
    client.post(f"/meters/{meter.pk}/", {**sent, "reason": "read off the wrong clock"})

    assert (Reading.objects.latest("id").kind, Reading.objects.latest("id").value) == ("correction", 59_940)
    assert "read off the wrong clock" in client.get("/aircraft/QX-SKA/meters/").content.decode()


TWO = "reg,date,minutes\nQX-SKA,2025-03-01,30\nQX-SKA,2025-03-02,40\n"
ONE_BAD = TWO + "QX-???,2025-03-02,40\n"


def bring(client: Client, text: str, name: str = "log.csv") -> Any:
    return client.post("/flights/files/", {"file": SimpleUploadedFile(name, text.encode(), "text/csv")})


def test_a_file_is_brought_looked_through_and_imported(house: makers.House) -> None:
    client = page_of(house)
    address = bring(client, TWO)["Location"]
    words = client.get(address).content.decode()
    assert "Every row makes sense" in words
    assert FlightEntry.objects.count() == 0

    client.post(f"{address}import/")

    assert FlightEntry.objects.count() == 2
    words = client.get(address).content.decode().replace("\xa0", " ")
    assert "2 flights imported" in words
    again = bring(client, TWO)["Location"]
    assert "Nothing new" in client.get(again).content.decode()


def test_bad_rows_are_shown_with_what_to_do_and_left_out_only_when_ticked(house: makers.House) -> None:
    client = page_of(house)
    address = bring(client, ONE_BAD)["Location"]
    words = client.get(address).content.decode()
    assert "QX-???" in words
    assert "put the aircraft on the register first" in words

    client.post(f"{address}import/", HTTP_REFERER=address)
    assert FlightEntry.objects.count() == 0
    client.post(f"{address}import/", {"leave_out_bad_rows": "yes"})
    assert FlightEntry.objects.count() == 2


def test_columns_are_chosen_where_they_cannot_be_guessed(house: makers.House) -> None:
    client = page_of(house)
    address = bring(client, "who,when,long\nQX-SKA,2025-03-01,30\n")["Location"]
    assert "registration: has no column" in client.get(address).content.decode()

    chosen = {"registration": "who", "date": "when", "duration": "long", "numbers": "minutes", "zone": "utc"}
    client.post(f"{address}columns/", chosen)
    client.post(f"{address}import/")

    assert FlightEntry.objects.get().minutes == 30


def test_a_long_file_is_imported_in_the_background_and_its_page_follows(
    house: makers.House, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    monkeypatch.setattr(flight_files, "ROWS_AT_ONCE", 1)
    client = page_of(house)
    address = bring(client, TWO)["Location"]

    with django_capture_on_commit_callbacks() as after:
        client.post(f"{address}import/")
    assert f'data-poll="{address}progress/"' in client.get(address).content.decode()
    assert FlightEntry.objects.count() == 0
    for callback in after:
        callback()

    piece = client.get(f"{address}progress/").content.decode()
    assert f'data-next="{address}"' in piece
    assert "data-poll" not in piece
    assert FlightEntry.objects.count() == 2


def test_a_file_whose_import_broke_off_says_so_and_is_tried_again(house: makers.House) -> None:
    client = page_of(house)
    address = bring(client, TWO)["Location"]
    with patch("fleet.services.flight_import.note", side_effect=OperationalError):
        client.post(f"{address}import/")
        assert f'data-poll="{address}progress/"' in client.get(address).content.decode()
        import_flight_files()
        import_flight_files()

    page = client.get(address).content.decode()
    assert "broke off 3 times" in page
    assert "Nothing of it was kept" in page
    assert "Try again</button>" in page
    assert "data-poll" not in client.get(f"{address}progress/").content.decode()
    assert "Broken off; nothing kept" in client.get("/flights/files/").content.decode()
    assert "Try again</button>" not in page_of(house, A).get(address).content.decode()

    client.post(f"{address}import/")

    assert FlightEntry.objects.count() == 2
    assert "Not imported yet" not in client.get("/flights/files/").content.decode()


def test_a_file_that_is_no_flight_file_is_refused_beside_its_field(house: makers.House) -> None:
    client = page_of(house)

    empty = client.post("/flights/files/", {"file": SimpleUploadedFile("x.csv", b"", "text/csv")})
    binary = client.post(
        "/flights/files/", {"file": SimpleUploadedFile("x.csv", io.BytesIO(b"\xff\xfe\x00").read())}
    )

    assert "empty" in empty.content.decode()
    assert "UTF-8" in binary.content.decode()
    assert FlightUpload.objects.count() == 0


def test_an_auditor_brings_no_file_and_a_thrown_away_one_is_gone(house: makers.House) -> None:
    file = {"file": SimpleUploadedFile("log.csv", TWO.encode(), "text/csv")}
    assert page_of(house, A).post("/flights/files/", file).status_code == 403
    client = page_of(house)
    address = bring(client, TWO)["Location"]

    client.post(f"{address}forget/")

    assert (FlightUpload.objects.count(), client.get(address).status_code) == (0, 404)
