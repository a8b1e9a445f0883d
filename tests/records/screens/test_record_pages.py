"""Sealed records on screen: found, read, checked, amended, verified from paper."""

import hashlib
import re

import pytest
from django.test import Client

from fleet.common.actor import Role
from records.models import SignedRecord
from records.selectors.record_check import check_of, neighbours_of
from tests.makers import PASSWORD, at, browser_of
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    made = make_workshop()
    made.report()
    made.do_purge(at(hours=1))
    made.do_flow_test(at(hours=3), "1500", "1510")
    return made


def reader(workshop: Workshop, role: Role = Role.AUDITOR) -> Client:
    return browser_of(workshop.house.person(role))


def test_the_list_is_narrowed_by_aircraft_procedure_verdict_person_and_words(workshop: Workshop) -> None:
    client = reader(workshop)
    inspector = workshop.house.person(Role.INSPECTOR).pk
    first, second = (record.number for record in SignedRecord.objects.order_by("sequence"))
    for query, found in (
        ("", {first, second}),
        (f"aircraft={workshop.aircraft.registration}", {first, second}),
        ("aircraft=QX-NONE", set()),
        ("procedure=panel-purge", {first}),
        ("verdict=fail", set()),
        (f"person={inspector}", {second}),
        (f"q={second}", {second}),
        ("since=2025-03-04", set()),
        ("since=nonsense", {first, second}),
    ):
        page = client.get(f"/records/?{query}").content.decode()
        links = set(re.findall(r'<a href="/records/([^/"]+)/">', page))
        assert links == found, query
    assert "No record fits" in client.get("/records/?verdict=fail").content.decode()


def test_a_record_shows_readings_as_written_limits_margins_signatures_and_its_neighbours(
    workshop: Workshop,
) -> None:
    first, second = SignedRecord.objects.order_by("sequence")
    page = reader(workshop).get(f"/records/{second.number}/").content.decode()
    for words in (
        "1500\u00a0mL",
        "250\u00a0mL inside",
        "0.4\u00a0V inside",
        "performed the work as described",
        "inspected the work independently",
        second.digest,
        second.previous_digest,
        f"/records/{first.number}/",
        "its text is what was sealed",
    ):
        assert words in page, words


def test_the_exact_text_is_the_file_whose_sha_256_is_the_digest(workshop: Workshop) -> None:
    record = SignedRecord.objects.latest("id")
    answer = reader(workshop).get(f"/records/{record.number}/text/")
    assert hashlib.sha256(answer.content).hexdigest() == record.digest
    assert answer["Content-Disposition"] == f'attachment; filename="{record.number}.json"'


def test_an_edited_text_and_a_broken_link_are_found_on_the_page(workshop: Workshop) -> None:
    first, second = SignedRecord.objects.order_by("sequence")
    assert check_of(second, *neighbours_of(second)).flaws == ()
    second.canonical = second.canonical.replace('"1500"', '"1700"')
    assert check_of(second, first, None).flaws == (
        "its text gives another digest: it was edited after it was sealed",
        f"{workshop.house.person(Role.TECHNICIAN).full_name} signed other content",
        f"{workshop.house.person(Role.INSPECTOR).full_name} signed other content",
    )
    assert check_of(second, None, None).flaws[1] == "it does not follow the record before it"
    second.canonical = "{"
    assert "its text cannot be read" in check_of(second, first, None).flaws


def test_the_whole_chain_is_checked_where_that_is_asked(workshop: Workshop) -> None:
    record = SignedRecord.objects.latest("id")
    page = reader(workshop).get(f"/records/{record.number}/?check=chain").content.decode()
    assert f"{workshop.aircraft.registration}: 2 records, whole" in page


def test_whoever_holds_the_paper_learns_whether_it_is_whole_and_nothing_more(workshop: Workshop) -> None:
    record = SignedRecord.objects.latest("id")
    page = Client().get(f"/verify/{record.digest}/").content.decode()
    assert "Whole" in page
    assert record.number in page
    assert "1500" not in page
    assert workshop.house.person(Role.TECHNICIAN).full_name not in page
    for digest in ("f" * 64, "nonsense"):
        unknown = Client().get(f"/verify/{digest}/")
        assert unknown.status_code == 404
        assert "No such record" in unknown.content.decode()


def test_the_paper_is_a_pdf_under_the_records_own_number(workshop: Workshop) -> None:
    record = SignedRecord.objects.latest("id")
    answer = reader(workshop).get(f"/records/{record.number}.pdf")
    assert answer.content.startswith(b"%PDF")
    assert answer["Content-Disposition"] == f'inline; filename="{record.number}.pdf"'


def test_an_amendment_is_shown_in_full_before_its_password_and_leaves_the_old_record_readable(
    workshop: Workshop,
) -> None:
    client = reader(workshop, Role.TECHNICIAN)
    old = SignedRecord.objects.latest("id")
    address = f"/records/{old.number}/amend/"
    words = {"reason": "Wrong stand named", "text": "Stand 4, not stand 2."}
    shown = client.post(address, words).content.decode()
    assert "Stand 4, not stand 2." in shown
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', shown)
    assert digest is not None
    assert SignedRecord.objects.count() == 2
    wrong = client.post(address, words | {"digest": digest[1], "password": "wrong"})
    assert wrong.status_code == 403
    assert SignedRecord.objects.count() == 2
    client.post(address, words | {"digest": digest[1], "password": PASSWORD})
    made = SignedRecord.objects.latest("id")
    assert (made.kind, made.amends_id) == ("amendment", old.pk)
    page = client.get(f"/records/{old.number}/").content.decode()
    assert "This record was amended" in page
    assert f'<a href="/records/{made.number}/">' in page
    assert "Stand 4, not stand 2." in client.get(f"/records/{made.number}/").content.decode()


def test_an_auditor_finds_no_form_to_amend_with(workshop: Workshop) -> None:
    record = SignedRecord.objects.latest("id")
    page = reader(workshop).get(f"/records/{record.number}/amend/").content.decode()
    assert "Your role amends nothing." in page
    assert "<textarea" not in page


def test_the_complete_records_come_as_a_file_and_the_trail_notes_it(workshop: Workshop) -> None:
    client = reader(workshop)
    registration = workshop.aircraft.registration
    assert client.get(f"/aircraft/{registration}/export/").status_code == 405
    answer = client.post(f"/aircraft/{registration}/export/")
    assert answer["Content-Type"] == "application/zip"
    trail = workshop.house.operator.trail.latest("id")
    assert (trail.action, trail.subject_id) == ("export_aircraft", registration)
