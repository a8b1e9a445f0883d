"""Who may sign what, what the signature binds, and what sealing settles."""

import hashlib
from datetime import timedelta

import pytest

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.common.errors import Conflict, NotFound, Refusal
from fleet.models import Authorisation, Certificate
from fleet.selectors.people import actor_for
from records.models import BenchRun, Signature, SignedRecord
from records.seal.canonical import exact_form, read_form
from records.selectors.runs import content_of_run, content_to_sign
from records.services.finishing import finish_run
from records.services.provisions import hand_over
from records.services.runs import abandon_run
from records.services.signing import Signing, sign
from scheduling.models import Task
from tests.makers import at, make_house, make_person
from tests.records.makers import Workshop, make_workshop, pump_runs

pytestmark = pytest.mark.django_db
BESIDE = ("record", "sequence", "kind", "sealed_at", "signatures", "previous")


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    shop.do_purge(at(0, 1))
    return shop


@pytest.fixture
def run(shop: Workshop) -> BenchRun:
    return shop.flow_test(at(0, 3))


def refused(shop: Workshop, run: BenchRun, meaning: str = "performed", role: Role = Role.TECHNICIAN) -> str:
    """The code of the refusal; proves that nothing was signed, sealed or closed."""
    before = (Signature.objects.count(), SignedRecord.objects.count())
    with pytest.raises(Refusal) as refusal:
        shop.sign(run, meaning, shop.house.actor(role))
    assert (Signature.objects.count(), SignedRecord.objects.count()) == before
    assert Task.objects.get(pk=run.task_id).state == "awaiting_signature"
    return refusal.value.code


def test_the_first_of_two_signatures_seals_nothing(shop: Workshop, run: BenchRun) -> None:
    assert shop.sign(run) is None
    assert Task.objects.get(pk=run.task_id).state == "awaiting_signature"
    assert SignedRecord.objects.filter(run=run).count() == 0


def test_the_second_signature_seals_and_closes(shop: Workshop, run: BenchRun) -> None:
    shop.sign(run)
    record = shop.sign(run, "inspected")
    assert record is not None
    task = Task.objects.get(pk=run.task_id)
    assert (task.state, task.proof, task.closed_at) == ("closed", record.number, at(0, 4))
    run.refresh_from_db()
    assert (run.state, record.sequence, record.completed_on) == ("signed", 2, at().date())


def test_the_record_holds_exactly_what_both_were_shown(shop: Workshop, run: BenchRun) -> None:
    shown = content_to_sign(shop.technician, run.pk)
    record = shop_record(shop, run)
    payload = read_form(record.canonical.encode())
    signed = {key: value for key, value in payload.items() if key not in BESIDE}
    assert signed == dict(shown.payload)
    digest = hashlib.sha256(exact_form(signed)).hexdigest()
    assert [row["content_digest"] for row in payload["signatures"]] == [digest, digest]
    assert hashlib.sha256(record.canonical.encode()).hexdigest() == record.digest


def shop_record(shop: Workshop, run: BenchRun) -> SignedRecord:
    shop.sign(run)
    record = shop.sign(run, "inspected")
    assert record is not None
    return record


def test_the_record_names_what_a_complete_entry_needs(shop: Workshop, run: BenchRun) -> None:
    payload = read_form(shop_record(shop, run).canonical.encode())
    signature = payload["signatures"][-1]
    technician, inspector = shop.house.person(Role.TECHNICIAN), shop.house.person(Role.INSPECTOR)
    assert payload["procedure"]["approved_data"] == "Work instruction 30-102"
    assert (payload["completed_on"], payload["performed_by"]) == ("2025-03-03", technician.full_name)
    assert (signature["name"], signature["certificate_kind"]) == (
        inspector.full_name,
        "maintenance licence B1",
    )
    assert payload["aircraft"]["time_in_service"] == "1000:00"
    assert payload["equipment"][0]["certificate"].startswith("CAL-")
    assert [row["value"] for row in payload["measurements"]] == ["28.1", "1500", "1510"]


def test_records_of_one_aircraft_form_a_chain(shop: Workshop, run: BenchRun) -> None:
    record = shop_record(shop, run)
    first = SignedRecord.objects.get(aircraft=shop.aircraft, sequence=1)
    assert (first.previous_digest, record.previous_digest) == ("0" * 64, first.digest)


def test_a_flight_posted_late_does_not_change_what_was_signed(shop: Workshop, run: BenchRun) -> None:
    shop.sign(run)
    before = content_of_run(run).digest
    shop.report("line-opened", at(0, 2))
    Task.objects.filter(pk=run.task_id).update(title="Renamed since")
    assert content_of_run(BenchRun.objects.get(pk=run.pk)).digest == before


def test_content_other_than_shown_is_not_signed(shop: Workshop, run: BenchRun) -> None:
    signing = Signing(run.pk, "performed", "0" * 64, "password")
    with pytest.raises(Conflict) as refusal:
        sign(actor=shop.technician, signing=signing)
    assert (refusal.value.code, Signature.objects.filter(run=run).count()) == ("content_changed", 0)


def test_an_unfinished_run_is_not_signed(shop: Workshop) -> None:
    shop.report("line-opened", at(0, 5))
    run = shop.open("panel-purge", at(0, 6))
    with pytest.raises(Conflict) as refusal:
        shop.sign(run)
    assert refusal.value.code == "run_not_finished"


def test_a_pass_is_not_signed_while_its_purge_is_open_again(shop: Workshop, run: BenchRun) -> None:
    shop.report("line-opened", at(0, 5))
    assert refused(shop, run) == "waits_for_other_work"


def test_a_pass_overtaken_by_a_later_purge_proves_nothing(shop: Workshop, run: BenchRun) -> None:
    shop.report("line-opened", at(0, 5))
    shop.do_purge(at(0, 6))
    assert refused(shop, run) == "overtaken"
    abandon_run(actor=shop.technician, run_id=run.pk, reason="line opened since")
    record = shop.do_flow_test(at(0, 8))
    assert (record.verdict, Task.objects.get(pk=run.task_id).state) == ("pass", "closed")


def test_a_certificate_must_hold(shop: Workshop, run: BenchRun) -> None:
    Certificate.objects.filter(user=shop.house.person(Role.TECHNICIAN)).update(expires_on=at(-1).date())
    assert refused(shop, run) == "no_certificate"


@pytest.mark.parametrize(
    "change",
    [
        {"valid_to": at(-1).date()},
        {"valid_to": at(10).date()},
        {"valid_from": at(1).date()},
        {"revoked_on": at(5).date()},
        {"ata_chapters": ["61"]},
        {"act": "release"},
    ],
    ids=["ended before", "ended since", "began after the work", "revoked", "other chapter", "other act"],
)
def test_an_authorisation_must_hold_in_scope(
    shop: Workshop, run: BenchRun, change: dict[str, object]
) -> None:
    Authorisation.objects.filter(user=shop.house.person(Role.TECHNICIAN)).update(**change)
    assert refused(shop, run) == "no_authorisation"


def test_an_authorisation_for_the_chapter_is_enough(shop: Workshop, run: BenchRun) -> None:
    Authorisation.objects.filter(user=shop.house.person(Role.TECHNICIAN)).update(ata_chapters=["30"])
    shop.sign(run)
    assert Signature.objects.filter(run=run).count() == 1


def test_an_inspector_authorised_after_the_work_may_inspect_it(shop: Workshop, run: BenchRun) -> None:
    shop.sign(run)
    mine = Authorisation.objects.filter(user=shop.house.person(Role.INSPECTOR))
    mine.update(valid_from=now().date() - timedelta(days=1))
    assert shop.sign(run, "inspected") is not None


def test_only_whoever_did_the_work_signs_for_it(shop: Workshop, run: BenchRun) -> None:
    assert refused(shop, run, "performed", Role.INSPECTOR) == "not_your_run"


def test_the_inspection_comes_second(shop: Workshop, run: BenchRun) -> None:
    assert refused(shop, run, "inspected", Role.INSPECTOR) == "performer_first"


def test_nobody_inspects_their_own_work(shop: Workshop) -> None:
    other = shop.house.person(Role.INSPECTOR)
    run = shop.open("panel-flow-test", at(0, 3))
    shop.fill_flow_test(run)

    third = make_person(Role.TECHNICIAN, shop.house.operator)
    hand_over(actor=shop.technician, run_id=run.pk, to_user_id=other.pk, note_words="photo is taken")
    hand_over(actor=shop.inspector, run_id=run.pk, to_user_id=third.pk, note_words="mine to finish")
    finish_run(actor=actor_for(third), run_id=run.pk, at=at(0, 4))
    shop.sign(run, "performed", actor_for(third))
    assert refused(shop, run, "inspected", Role.INSPECTOR) == "own_work"


def test_one_meaning_is_signed_once(shop: Workshop, run: BenchRun) -> None:
    shop.sign(run)
    assert refused(shop, run) == "signed_already"


@pytest.mark.parametrize(
    ("meaning", "role"),
    [
        ("performed", Role.CONTROLLER),
        ("performed", Role.DIRECTOR),
        ("performed", Role.AUDITOR),
        ("performed", Role.ADMINISTRATOR),
        ("inspected", Role.TECHNICIAN),
        ("inspected", Role.DIRECTOR),
    ],
)
def test_signing_is_for_its_roles(shop: Workshop, run: BenchRun, meaning: str, role: Role) -> None:
    assert refused(shop, run, meaning, role) == "not_allowed"


def test_a_strangers_run_is_not_found(shop: Workshop, run: BenchRun) -> None:
    stranger = make_house().actor(Role.TECHNICIAN)
    signing = Signing(run.pk, "performed", content_of_run(run).digest, "password")
    with pytest.raises(NotFound):
        sign(actor=stranger, signing=signing)
    with pytest.raises(NotFound):
        content_to_sign(stranger, run.pk)


def test_a_procedure_without_countersignature_takes_no_inspection(shop: Workshop) -> None:
    shop.report("line-opened", at(0, 5))
    run = shop.open("panel-purge", at(0, 6))
    shop.answer(run, "open", {"done": True})
    shop.answer(run, "pump", {"runs": pump_runs(run.started_at, 8, 12, 9)})
    shop.finish(run)
    assert refused(shop, run, "inspected", Role.INSPECTOR) == "no_inspection_asked"


def test_a_signed_failure_is_sealed_as_it_is_and_reopens_the_task(shop: Workshop) -> None:
    record = shop.do_flow_test(at(0, 3), "1000", "1010")
    task = shop.task("panel-flow-test")
    assert (record.verdict, task.state, task.proof) == ("fail", "raised", "")
    assert task.causes.filter(words__startswith=f"record {record.number} says FAIL").count() == 1


def test_a_failed_test_is_repeated_after_its_new_purge_and_closes(shop: Workshop) -> None:
    failed = shop.do_flow_test(at(0, 3), "1000", "1010")
    with pytest.raises(Conflict):
        shop.open("panel-flow-test", at(0, 6))
    shop.do_purge(at(0, 6))
    record = shop.do_flow_test(at(0, 8))
    assert record.run is not None
    assert failed.run is not None
    assert (record.run.number, record.run.task_id, record.verdict) == (2, failed.run.task_id, "pass")
    assert Task.objects.filter(state="closed").count() == 3


def test_an_invalid_run_is_sealed_and_closes_nothing(shop: Workshop) -> None:
    record = shop.do_flow_test(at(0, 3), "1500", "1510", "27.0")
    assert (record.verdict, shop.task("panel-flow-test").state) == ("invalid", "raised")


def test_a_pump_run_too_long_fails_the_purge(shop: Workshop) -> None:
    shop.report("line-opened", at(0, 5))
    run = shop.open("panel-purge", at(0, 6))
    shop.answer(run, "open", {"done": True})
    shop.answer(run, "pump", {"runs": pump_runs(run.started_at, 8, 5, 9)})
    record = shop.sign(shop.finish(run))
    assert record is not None
    assert record.verdict != "pass"
    assert shop.task("panel-purge").state == "raised"
