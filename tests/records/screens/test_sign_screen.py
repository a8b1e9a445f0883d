"""Signing on screen: what is shown, whose password, who stands beside, and what a second tap does."""

import re

import pytest
from axes.models import AccessAttempt
from django.test import Client

from fleet.common.actor import Role
from fleet.models import Authorisation
from records.models import BenchRun, Signature, SignedRecord
from tests.makers import PASSWORD, at, browser_of
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    made = make_workshop()
    made.report()
    made.do_purge(at(hours=1))
    return made


@pytest.fixture
def run(workshop: Workshop) -> BenchRun:
    return workshop.flow_test(at(hours=3))


def browser(workshop: Workshop, role: Role = Role.TECHNICIAN) -> Client:
    return browser_of(workshop.house.person(role))


def page_of(client: Client, run: BenchRun) -> str:
    return client.get(f"/runs/{run.pk}/sign/").content.decode()


def digest_on(page: str) -> str:
    found = re.search(r'name="digest" value="([0-9a-f]{64})"', page)
    assert found is not None
    return found[1]


def sent(page: str, password: str = PASSWORD, meaning: str = "performed", **more: str) -> dict[str, str]:
    return {"password": password, "digest": digest_on(page), "meaning": meaning, **more}


def test_the_page_shows_all_that_is_signed_and_what_the_signature_quotes(
    workshop: Workshop, run: BenchRun
) -> None:
    page = page_of(browser(workshop), run)
    for words in (
        "I performed the work as described above.",
        "1500\u00a0mL",
        "28.1\u00a0V",
        "22.0 L",
        "Work instruction 30-102, revision 3",
        "maintenance licence B1 L-",
        "AUTH-",
        "An independent inspector signs after you.",
    ):
        assert words in page, words


def test_a_wrong_password_signs_nothing_and_says_so(workshop: Workshop, run: BenchRun) -> None:
    client = browser(workshop)
    answer = client.post(f"/runs/{run.pk}/sign/", sent(page_of(client, run), "wrong"))
    assert answer.status_code == 403
    assert "The password is not right. Nothing was signed." in answer.content.decode()
    assert not Signature.objects.filter(run=run).exists()
    assert AccessAttempt.objects.filter(failures_since_start=1).exists()


def test_after_five_wrong_passwords_the_right_one_is_refused_in_words(
    workshop: Workshop, run: BenchRun
) -> None:
    client = browser(workshop)
    page = page_of(client, run)
    for _ in range(5):
        client.post(f"/runs/{run.pk}/sign/", sent(page, "wrong"))
    answer = client.post(f"/runs/{run.pk}/sign/", sent(page))
    assert "locked for 15 minutes" in answer.content.decode()
    assert not Signature.objects.filter(run=run).exists()


def test_an_empty_password_asks_for_one(workshop: Workshop, run: BenchRun) -> None:
    client = browser(workshop)
    answer = client.post(f"/runs/{run.pk}/sign/", sent(page_of(client, run), ""))
    assert answer.status_code == 422
    assert "Fill in “Your password, entered now”" in answer.content.decode()


def test_an_inspector_beside_signs_as_themselves_while_the_technician_stays_signed_in(
    workshop: Workshop, run: BenchRun
) -> None:
    client = browser(workshop)
    client.post(f"/runs/{run.pk}/sign/", sent(page_of(client, run)))
    inspector = workshop.house.person(Role.INSPECTOR)
    page = page_of(client, run)
    assert "Somebody beside you signs" in page
    answer = client.post(
        f"/runs/{run.pk}/sign/", sent(page, meaning="inspected", username=inspector.username), follow=True
    )
    record = SignedRecord.objects.get(run=run)
    assert answer.redirect_chain[0][0] == f"/records/{record.number}/"
    assert f"Record {record.number} is sealed." in answer.content.decode()
    assert "is now free to fly" in answer.content.decode()
    assert {row.meaning: row.user_id for row in run.signatures.all()} == {
        "performed": workshop.house.person(Role.TECHNICIAN).pk,
        "inspected": inspector.pk,
    }
    assert client.get("/records/").wsgi_request.user == workshop.house.person(Role.TECHNICIAN)


def test_who_did_the_work_does_not_inspect_it_standing_beside_either(
    workshop: Workshop, run: BenchRun
) -> None:
    client = browser(workshop)
    client.post(f"/runs/{run.pk}/sign/", sent(page_of(client, run)))
    technician = workshop.house.person(Role.TECHNICIAN)
    page = page_of(client, run)
    answer = client.post(
        f"/runs/{run.pk}/sign/", sent(page, meaning="inspected", username=technician.username)
    )
    assert answer.status_code == 403
    assert Signature.objects.filter(run=run).count() == 1


def test_a_second_tap_on_sign_signs_once_and_complains_of_nothing(workshop: Workshop, run: BenchRun) -> None:
    client = browser(workshop)
    data = sent(page_of(client, run))
    client.post(f"/runs/{run.pk}/sign/", data)
    again = client.post(f"/runs/{run.pk}/sign/", data)
    assert again.status_code == 200
    assert 'role="alert"' not in again.content.decode()
    assert Signature.objects.filter(run=run).count() == 1


def test_what_was_not_shown_is_not_signed(workshop: Workshop, run: BenchRun) -> None:
    client = browser(workshop)
    data = sent(page_of(client, run)) | {"digest": "0" * 64}
    answer = client.post(f"/runs/{run.pk}/sign/", data)
    assert answer.status_code == 409
    assert "This is not what was shown to you" in answer.content.decode()
    assert not Signature.objects.filter(run=run).exists()


def test_a_lapsed_authorisation_is_said_before_anybody_types_a_password(
    workshop: Workshop, run: BenchRun
) -> None:
    Authorisation.objects.filter(user=workshop.house.person(Role.TECHNICIAN)).update(valid_to=at(-1).date())
    page = page_of(browser(workshop), run)
    assert "You cannot sign this" in page
    assert "has no authorisation valid on" in page
    assert 'id="sign-password"' not in page


@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_signs_nothing_reads_it_and_has_no_place_for_a_password(
    workshop: Workshop, run: BenchRun, role: Role
) -> None:
    page = page_of(browser(workshop, role), run)
    assert "Your role reads this and signs nothing." in page
    assert 'type="password"' not in page


def test_an_unfinished_run_leads_back_to_its_steps_and_a_sealed_one_to_its_record(workshop: Workshop) -> None:
    client = browser(workshop)
    run = workshop.open("panel-flow-test", at(hours=3))
    assert client.get(f"/runs/{run.pk}/sign/")["Location"] == f"/runs/{run.pk}/"
    workshop.fill_flow_test(run)
    workshop.finish(run)
    workshop.sign(run)
    record = workshop.sign(run, "inspected")
    assert record is not None
    assert client.get(f"/runs/{run.pk}/sign/")["Location"] == f"/records/{record.number}/"


def test_a_failed_run_says_that_it_is_sealed_as_fail_and_the_task_stays_open(workshop: Workshop) -> None:
    run = workshop.flow_test(at(hours=3), "900", "1500")
    workshop.sign(run)
    page = page_of(browser(workshop, Role.INSPECTOR), run)
    assert "The record is sealed as FAIL" in page
    assert "its due date does not move" in page
