"""Flight files brought by hand: looked through, chosen about, imported once, even when a worker dies."""

from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any
from unittest.mock import MagicMock, patch

import pytest
from django.core.files.base import ContentFile
from django.db import OperationalError
from pytest_django import DjangoCaptureOnCommitCallbacks

from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.jobs import import_flight_files
from fleet.models import FlightEntry, FlightUpload, ImportBatch
from fleet.selectors.meters import counters_at
from fleet.services import flight_uploads
from fleet.services.flight_import import ImportReport
from fleet.services.flight_uploads import (
    ask_for_import,
    carry_out_upload,
    forget_upload,
    keep_upload,
    read_upload_again,
    waiting_uploads,
)
from tests import makers

pytestmark = pytest.mark.django_db

TWO = "reg,date,minutes\nQX-SKA,2025-03-01,30\nQX-SKA,2025-03-02,40\n"
ONE_BAD = TWO + "QX-???,2025-03-02,40\n"
ODD = "who,when,long\nQX-SKA,2025-03-01,30\n"


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(registration="QX-SKA")


def breaking(error: Exception) -> AbstractContextManager[MagicMock]:
    """The import writes its flights, and dies of this at its very end."""
    return patch("fleet.services.flight_import.note", side_effect=error)


def die(upload: FlightUpload) -> None:
    """A worker takes the file on and is gone at its end."""
    dying = patch("fleet.services.flight_import.note", side_effect=SystemExit)
    with dying, pytest.raises(SystemExit):
        carry_out_upload(upload_id=upload.pk)


def keep(house: makers.House, text: str, role: str = "controller") -> FlightUpload:
    return keep_upload(actor=house.actor(role), filename="log.csv", content=ContentFile(text.encode()))


def ask(house: makers.House, upload: FlightUpload, leave_out: bool = False) -> FlightUpload:
    return ask_for_import(actor=house.actor("controller"), upload_id=upload.pk, leave_out_bad_rows=leave_out)


def test_a_file_is_kept_and_looked_through_and_nothing_is_imported(house: makers.House) -> None:
    upload = keep(house, ONE_BAD)

    assert (upload.state, upload.report["new"], upload.report["bad"]) == ("checked", 2, 1)
    assert upload.report["errors"][0]["column"] == "reg"
    assert FlightEntry.objects.count() == 0


def test_columns_that_cannot_be_guessed_are_asked_for(house: makers.House) -> None:
    upload = keep(house, ODD)
    assert "registration: has no column" in upload.report["refusal"]
    assert upload.report["heading"] == ["who", "when", "long"]

    chosen = {"registration": "who", "date": "when", "duration": "long", "numbers": "minutes"}
    again = read_upload_again(actor=house.actor("controller"), upload_id=upload.pk, columns=chosen)

    assert (again.report.get("refusal"), again.report["minutes"]) == (None, 30)


@pytest.mark.parametrize(("text", "words"), [("", "empty"), ("\n\n", "empty"), ("a,a\n1,2\n", "heads two")])
def test_a_file_that_cannot_hold_flights_is_not_kept(house: makers.House, text: str, words: str) -> None:
    with pytest.raises(Invalid, match=words):
        keep(house, text)
    assert FlightUpload.objects.count() == 0


def test_an_asked_for_import_is_carried_out_once(house: makers.House) -> None:
    upload = ask(house, keep(house, TWO))

    assert import_flight_files() == 1
    assert import_flight_files() == 0
    assert carry_out_upload(upload_id=upload.pk) is False

    upload.refresh_from_db()
    assert (upload.state, upload.report["new"], FlightEntry.objects.count()) == ("done", 2, 2)
    assert upload.batch is not None
    assert upload.batch.imported_by == house.person("controller")


def test_bad_rows_are_left_out_only_when_that_was_chosen(house: makers.House) -> None:
    upload = keep(house, ONE_BAD)
    with pytest.raises(Conflict, match="1 rows cannot be imported"):
        ask(house, upload)
    ask(house, upload, leave_out=True)
    import_flight_files()

    assert FlightEntry.objects.count() == 2


def test_a_file_without_anything_new_is_not_asked_for(house: makers.House) -> None:
    ask(house, keep(house, TWO))
    import_flight_files()

    with pytest.raises(Conflict, match="no new flight"):
        ask(house, keep(house, TWO))


def test_what_changed_since_the_look_is_refused_when_it_is_imported(house: makers.House) -> None:
    upload = ask(house, keep(house, TWO))
    house.aircraft.registration = "QX-ELSE"
    house.aircraft.save()

    import_flight_files()

    upload.refresh_from_db()
    assert (upload.state, FlightEntry.objects.count()) == ("refused", 0)
    assert "2 of 2 rows cannot be imported" in upload.report["refusal"]


def test_a_file_whose_worker_died_is_taken_up_again(house: makers.House) -> None:
    upload = ask(house, keep(house, TWO))
    die(upload)
    assert waiting_uploads() == []

    FlightUpload.objects.update(claimed_at=now() - timedelta(minutes=31))

    assert waiting_uploads() == [upload.pk]
    assert carry_out_upload(upload_id=upload.pk) is True
    assert FlightEntry.objects.count() == 2


def test_an_import_that_breaks_off_is_tried_again_and_then_in(house: makers.House) -> None:
    upload = ask(house, keep(house, TWO))
    with breaking(OperationalError("gone")):
        import_flight_files()
    upload.refresh_from_db()
    assert (upload.state, FlightEntry.objects.count()) == ("asked", 0)

    import_flight_files()

    upload.refresh_from_db()
    assert (upload.state, FlightEntry.objects.count()) == ("done", 2)


def test_an_import_that_breaks_off_every_time_has_failed_in_words_and_left_nothing(
    house: makers.House, caplog: pytest.LogCaptureFixture
) -> None:
    upload = ask(house, keep(house, TWO))
    before = counters_at(house.aircraft.pk, now())
    with breaking(OperationalError("secret of the database")) as broken:
        for _ in range(5):
            import_flight_files()
    upload.refresh_from_db()

    words = upload.report["failure"]
    assert (upload.state, broken.call_count, waiting_uploads()) == ("failed", 3, [])
    assert "broke off 3 times" in words
    assert "Nothing of it was kept" in words
    assert "tell whoever runs the system" in words
    assert ("OperationalError" in words, "secret" in words) == (True, False)
    assert (FlightEntry.objects.count(), ImportBatch.objects.count()) == (0, 0)
    assert counters_at(house.aircraft.pk, now()) == before
    assert f"flight file {upload.pk} broke off, try 3" in caplog.text


def test_a_file_that_kills_every_worker_has_failed_too(house: makers.House) -> None:
    upload = ask(house, keep(house, TWO))
    for _ in range(3):
        die(upload)
        FlightUpload.objects.update(claimed_at=now() - timedelta(minutes=31))

    import_flight_files()

    upload.refresh_from_db()
    assert (upload.state, FlightEntry.objects.count()) == ("failed", 0)
    assert "each time the program stopped" in upload.report["failure"]


def test_what_failed_may_be_tried_again_by_whoever_keeps_the_log(house: makers.House) -> None:
    upload = ask(house, keep(house, TWO))
    with breaking(ValueError()):
        for _ in range(3):
            import_flight_files()
    with pytest.raises(NotAllowed):
        ask_for_import(actor=house.actor("auditor"), upload_id=upload.pk, leave_out_bad_rows=False)

    again = ask(house, upload)
    assert (again.state, again.tries) == ("asked", 0)
    import_flight_files()

    upload.refresh_from_db()
    assert (upload.state, FlightEntry.objects.count()) == ("done", 2)
    assert "failure" not in upload.report


def test_flights_are_not_kept_where_the_word_that_they_are_in_cannot_be(house: makers.House) -> None:
    """Whatever dies between the last flight and the mark takes the flights with it."""
    upload = ask(house, keep(house, TWO))
    real = flight_uploads.import_flight_file

    def settled_meanwhile(**given: Any) -> ImportReport:
        report = real(**given)
        FlightUpload.objects.update(state="failed")
        return report

    with patch.object(flight_uploads, "import_flight_file", settled_meanwhile):
        assert carry_out_upload(upload_id=upload.pk) is False

    assert FlightEntry.objects.count() == 0


def test_one_file_that_breaks_off_does_not_hold_up_the_next(house: makers.House) -> None:
    first, second = ask(house, keep(house, TWO)), ask(house, keep(house, TWO))
    first.file.storage.delete(first.file.name)

    import_flight_files()

    second.refresh_from_db()
    assert (second.state, FlightEntry.objects.count()) == ("done", 2)


def test_a_file_that_is_being_imported_is_neither_read_again_nor_thrown_away(house: makers.House) -> None:
    upload, actor = ask(house, keep(house, TWO)), house.actor("controller")

    with pytest.raises(Conflict):
        read_upload_again(actor=actor, upload_id=upload.pk, columns={})
    with pytest.raises(Conflict):
        forget_upload(actor=actor, upload_id=upload.pk)
    with pytest.raises(Conflict):
        ask(house, upload)


def test_old_files_are_forgotten_and_their_bytes_with_them(
    house: makers.House, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    old = keep(house, TWO)
    FlightUpload.objects.update(uploaded_at=now() - timedelta(days=3))
    with django_capture_on_commit_callbacks(execute=True):
        keep(house, TWO)

    assert FlightUpload.objects.count() == 1
    assert not old.file.storage.exists(old.file.name)


def test_strangers_find_nothing_and_auditors_bring_nothing(house: makers.House) -> None:
    upload = keep(house, TWO)
    stranger = makers.make_house().actor("controller")

    with pytest.raises(NotFound):
        ask_for_import(actor=stranger, upload_id=upload.pk, leave_out_bad_rows=False)
    with pytest.raises(NotAllowed):
        keep(house, TWO, role="auditor")
    assert FlightUpload.objects.count() == 1
