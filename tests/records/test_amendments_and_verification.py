"""Amending a record without touching it, and finding whatever was touched."""

from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection

from fleet.common.actor import Role
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.models import TrailEntry
from records.models import SignedRecord
from records.selectors.signed import payload_of, record_for
from records.selectors.verification import verify_aircraft
from records.services.amendments import Amendment, Draft, amend_record, amendment_content
from records.services.verification import verify_records
from scheduling.models import Task
from tests.makers import at, make_house
from tests.records.guards import without_guards
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    shop.do_purge(at(0, 1))
    shop.do_flow_test(at(0, 3))
    return shop


def number(shop: Workshop, sequence: int) -> str:
    return f"{shop.aircraft.registration}-{sequence:06d}"


def amend(shop: Workshop, role: Role = Role.TECHNICIAN, sequence: int = 2, **words: str) -> SignedRecord:
    actor = shop.house.actor(role)
    given = {"reason": "cylinder number misread", "text": "Cylinder eq-9 was used."} | words
    draft = Draft(number(shop, sequence), given["reason"], given["text"])
    digest = amendment_content(actor, draft).digest
    return amend_record(actor=actor, amendment=Amendment(draft, digest, "password"))


def test_an_amendment_is_a_record_of_its_own_that_names_the_old_one(shop: Workshop) -> None:
    before = SignedRecord.objects.get(sequence=2).canonical
    record = amend(shop)
    old = record_for(shop.technician, number(shop, 2))
    assert (record.kind, record.sequence, record.amends_id, old.canonical) == ("amendment", 3, old.pk, before)
    payload = payload_of(record)
    assert payload["amends"] == {"record": old.number, "digest": old.digest}
    assert payload["signatures"][0]["certificate_kind"] == "maintenance licence B1"
    assert [row.number for row in old.amendments.all()] == [record.number]
    assert verify_aircraft(shop.aircraft).is_whole


def test_an_amendment_may_be_amended(shop: Workshop) -> None:
    amend(shop)
    again = amend(shop, sequence=3, reason="and the batch too")
    assert (again.amends and again.amends.number, verify_aircraft(shop.aircraft).records) == (
        number(shop, 3),
        4,
    )


def test_an_amendment_decides_nothing_anew(shop: Workshop) -> None:
    amend(shop)
    assert Task.objects.filter(state="closed").count() == 2


@pytest.mark.parametrize("field", ["reason", "text"])
def test_an_amendment_needs_reason_and_text(shop: Workshop, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        amend(shop, **{field: "  "})
    assert (refused.value.reasons[0].field, SignedRecord.objects.count()) == (field, 2)


def test_an_amendment_other_than_shown_is_not_sealed(shop: Workshop) -> None:
    draft = Draft(number(shop, 2), "reason", "text")
    with pytest.raises(Conflict):
        amend_record(actor=shop.technician, amendment=Amendment(draft, "0" * 64, "password"))
    assert SignedRecord.objects.count() == 2


@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.AUDITOR, Role.ADMINISTRATOR])
def test_amending_is_for_those_who_sign(shop: Workshop, role: Role) -> None:
    with pytest.raises(NotAllowed):
        amend(shop, role)
    assert SignedRecord.objects.count() == 2


def test_a_director_without_certificate_does_not_amend(shop: Workshop) -> None:
    with pytest.raises(NotAllowed) as refused:
        amend(shop, Role.DIRECTOR)
    assert (refused.value.code, SignedRecord.objects.count()) == ("no_certificate", 2)


def test_a_strangers_record_is_not_found(shop: Workshop) -> None:
    stranger = make_house().actor(Role.TECHNICIAN)
    with pytest.raises(NotFound):
        amendment_content(stranger, Draft(number(shop, 2), "r", "t"))


def test_untouched_records_are_whole_and_the_check_is_noted(shop: Workshop) -> None:
    found = verify_records(actor=shop.house.actor(Role.AUDITOR))
    assert [(each.records, each.flaws) for each in found] == [(2, ())]
    line = TrailEntry.objects.get(action="verify_records")
    assert line.words == "2 records of 1 aircraft checked: all whole"


def test_the_command_says_so_and_ends_well(shop: Workshop) -> None:
    out = StringIO()
    call_command("verify_records", stdout=out)
    assert out.getvalue().splitlines()[-1] == "Everything is whole."
    assert f"{shop.aircraft.registration}: 2 records, whole" in out.getvalue()


def flaws_after(shop: Workshop, statement: str) -> list[str]:
    """What is found after somebody with full rights changed the database behind the product's back."""
    with (
        without_guards("records_signedrecord", "records_signature", "records_photo"),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)
    return [f"{flaw.subject}: {flaw.words}" for flaw in verify_aircraft(shop.aircraft).flaws]


def test_an_edited_reading_is_found(shop: Workshop) -> None:
    found = flaws_after(
        shop,
        'UPDATE records_signedrecord SET canonical = replace(canonical, \'"value":"1500"\', \'"value":"1900"\') '
        "WHERE sequence = 2",
    )
    assert len(found) == 3
    assert "record 2 was edited" in found[0]
    assert "signed other content" in found[1]


def test_an_edited_column_beside_the_seal_is_found(shop: Workshop) -> None:
    found = flaws_after(shop, "UPDATE records_signedrecord SET verdict = 'fail' WHERE sequence = 1")
    assert f"{number(shop, 1)}: verdict reads fail beside the seal, pass inside it" in found


def test_an_edited_signature_is_found(shop: Workshop) -> None:
    found = flaws_after(
        shop, "UPDATE records_signature SET name = 'Somebody Else' WHERE meaning = 'inspected'"
    )
    assert any("the signature of Somebody Else differs from the one kept" in words for words in found)


def test_a_record_cut_off_at_the_end_is_found_by_the_trail(shop: Workshop) -> None:
    amend(shop)
    found = flaws_after(shop, "DELETE FROM records_signedrecord WHERE sequence = 3")
    assert [words.split(": ")[0] for words in found] == [number(shop, 3)]
    assert "and is gone" in found[0]


def test_a_changed_photo_is_found(shop: Workshop) -> None:
    run = SignedRecord.objects.get(sequence=2).run
    assert run is not None
    photo = run.photos.get()
    with photo.file.storage.open(photo.file.name, "wb") as file:
        file.write(b"something else")
    assert [flaw.words for flaw in verify_aircraft(shop.aircraft).flaws] == [
        "the photo at picture was changed"
    ]
    photo.file.storage.delete(photo.file.name)
    assert [flaw.words for flaw in verify_aircraft(shop.aircraft).flaws] == [
        "the file of the photo at picture is missing"
    ]


def test_a_task_closed_on_a_record_that_is_not_there_is_found(shop: Workshop) -> None:
    task = Task.objects.filter(state="closed").latest("id")
    Task.objects.filter(pk=task.pk).update(proof="QX-XXX-000009")
    found = {flaw.words for flaw in verify_aircraft(shop.aircraft).flaws}
    assert found == {
        "Panel flow test was closed on QX-XXX-000009, which is no record of this aircraft",
        "says PASS, but Panel flow test was not closed by it",
    }


def test_the_command_names_what_is_broken_and_fails(shop: Workshop) -> None:
    Task.objects.filter(state="closed").update(proof="QX-XXX-000009")
    out = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("verify_records", stdout=out)
    assert ended.value.code == 1
    assert "4 things wrong." in out.getvalue()
