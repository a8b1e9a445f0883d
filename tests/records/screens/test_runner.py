"""Working a run by its forms alone, as a browser without scripts would."""

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.common.actor import Role
from fleet.models import Calibration
from records.models import BenchRun, EquipmentUse, LotUse, RunState, SignedRecord, StepAnswer
from tests.makers import DAY, PASSWORD, EquipmentMaker, at, browser_of, make_person
from tests.records.makers import Workshop, make_workshop
from tests.records.screens.forms import (
    COLLECTED,
    OUTLETS,
    answer,
    begin,
    browser,
    fill,
    page_of,
    provide,
    watch_times,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    made = make_workshop()
    made.report()
    made.do_purge(at(hours=1))
    return made


def test_a_run_is_worked_finished_signed_by_two_and_sealed_with_forms_alone(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    fill(workshop, client, run)
    page = page_of(client, run)
    assert "Every step is answered" in page
    client.post(f"/runs/{run.pk}/finish/")
    assert "PASS" in page_of(client, run)
    for role, meaning in ((Role.TECHNICIAN, "performed"), (Role.INSPECTOR, "inspected")):
        signer = browser(workshop, role)
        shown = signer.get(f"/runs/{run.pk}/sign/").content.decode()
        digest = re.search(r'name="digest" value="([0-9a-f]{64})"', shown)
        assert digest is not None
        sent = {"password": PASSWORD, "digest": digest[1], "meaning": meaning}
        signed = signer.post(f"/runs/{run.pk}/sign/", sent)
    record = SignedRecord.objects.get(run=run)
    assert signed["Location"] == f"/records/{record.number}/"
    assert record.verdict == "pass"
    assert workshop.task("panel-flow-test").state == "closed"


def test_starting_twice_opens_one_run(workshop: Workshop) -> None:
    client = browser(workshop)
    task = workshop.task("panel-flow-test")
    first = client.post(f"/tasks/{task.pk}/start/", {"key": "same"})
    second = client.post(f"/tasks/{task.pk}/start/", {"key": "same"})
    assert first["Location"] == second["Location"]
    assert BenchRun.objects.filter(task=task).count() == 1


def test_a_task_that_waits_cannot_be_started_and_its_page_says_for_what(workshop: Workshop) -> None:
    workshop.report(when=at(hours=5))
    client = browser(workshop)
    task = workshop.task("panel-flow-test")
    page = client.get(f"/tasks/{task.pk}/").content.decode()
    assert "Cannot start yet" in page
    assert "Start the work" not in page
    refused = client.post(f"/tasks/{task.pk}/start/", {"key": "k"}, follow=True).content.decode()
    assert "Panel purge must be closed first" in refused
    assert not BenchRun.objects.filter(task=task).exists()


def test_the_same_answer_sent_twice_is_kept_once(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    provide(workshop, client, run)
    for _ in range(2):
        sent = answer(client, run, "clear", key="twice")
        assert sent.status_code == 302
    assert StepAnswer.objects.filter(run=run, step="clear").count() == 1


def test_steps_stay_shut_until_equipment_and_fluid_are_named(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    assert "Read and understood" not in page_of(client, run)
    sent = provide(workshop, client, run)
    assert sent["Location"] == f"/runs/{run.pk}/#step-clear"
    assert "Read and understood" in page_of(client, run)


def test_nothing_is_named_where_one_of_the_choices_is_refused(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    data = {
        "equipment-voltmeter": workshop.voltmeter.pk,
        "equipment-cylinder": workshop.cylinder.pk,
        "lot": workshop.lot.pk,
        "amount": "5",
        "unit": "L",
    }
    sent = client.post(f"/runs/{run.pk}/at-hand/", data)
    assert sent.status_code == 422
    assert "below the 20 L" in sent.content.decode()
    assert not EquipmentUse.objects.filter(run=run).exists()
    assert not LotUse.objects.filter(run=run).exists()


def test_equipment_out_of_calibration_is_not_offered_and_says_why(workshop: Workshop) -> None:
    lapsed = EquipmentMaker(
        operator=workshop.house.operator, base=workshop.house.base, code="old-cylinder", calibrated=False
    )
    Calibration.objects.create(
        equipment=lapsed, done_on=DAY - timedelta(days=400), due_on=DAY - timedelta(days=35), certificate="C"
    )
    client = browser(workshop)
    run = begin(workshop, client)
    page = page_of(client, run)
    assert "old-cylinder, " not in page
    assert "old-cylinder: calibration lapsed on 27\u00a0Jan\u00a02025" in page


def test_a_step_before_the_one_ahead_of_it_is_refused_in_words_and_nothing_is_kept(
    workshop: Workshop,
) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    provide(workshop, client, run)
    sent = answer(client, run, "power", done="yes")
    assert sent.status_code == 409
    assert "comes first: steps are worked in order" in sent.content.decode()
    assert not StepAnswer.objects.filter(run=run).exists()


def test_a_reading_that_is_no_number_stands_beside_its_field_as_it_was_entered(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    provide(workshop, client, run)
    answer(client, run, "clear")
    answer(client, run, "power", done="yes")
    sent = answer(client, run, "voltage", value="28,1", unit="V")
    page = sent.content.decode()
    assert sent.status_code == 422
    assert 'id="voltage-value-error"' in page
    assert "You entered “28,1”" in page
    assert not StepAnswer.objects.filter(run=run, step="voltage").exists()


def test_a_reading_shows_its_verdict_margin_and_scale_at_once(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    provide(workshop, client, run)
    answer(client, run, "clear")
    answer(client, run, "power", done="yes")
    sent = answer(client, run, "voltage", value="27.2", unit="V")
    assert sent["Location"] == f"/runs/{run.pk}/#step-voltage"
    page = page_of(client, run)
    assert "INVALID" in page
    assert "0.3\u00a0V outside" in page.lower() or "0.3\u00a0V outside" in page
    assert 'class="limit-scale"' in page
    assert "Outside so far" in page


def test_a_repeat_asks_why_keeps_both_and_shows_both(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    provide(workshop, client, run)
    answer(client, run, "clear")
    answer(client, run, "power", done="yes")
    answer(client, run, "voltage", value="27.2", unit="V")
    bare = answer(client, run, "voltage", key="again", value="28.0", unit="V", repeat_reason="")
    assert bare.status_code == 422
    assert "Fill in “Why is it repeated?”" in bare.content.decode()
    answer(client, run, "voltage", key="again", value="28.0", unit="V", repeat_reason="clip was loose")
    assert [row.answer["value"] for row in run.answers.filter(step="voltage")] == ["27.2", "28.0"]
    page = page_of(client, run)
    assert "27.2\u00a0V" in page
    assert "kept, does not count" in page
    assert "Repeated: clip was loose" in page


def test_not_as_asked_needs_a_remark_and_fails_its_step(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    provide(workshop, client, run)
    answer(client, run, "clear")
    bare = answer(client, run, "power", done="no")
    assert bare.status_code == 422
    assert "Say what is not as asked." in bare.content.decode()
    answer(client, run, "power", key="k2", done="no", note="no power at the stand")
    assert run.answers.get(step="power").answer == {"done": False, "note": "no power at the stand"}


def test_a_weighed_side_is_kept_as_written_and_becomes_a_volume_by_the_lots_own_density(
    workshop: Workshop,
) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    weighed = {
        "sides.left.method": "weighed",
        "sides.left.value": "",
        "sides.left.gross": "1885.0",
        "sides.left.tare": "250.0",
        "sides.left.mass_unit": "g",
        "sides.left.celsius": "20",
    }
    fill(workshop, client, run, **weighed)
    left = run.measurements.get(point="flow-left")
    assert (left.value, left.unit, left.detail["tare"], left.detail["celsius"]) == (
        "1885.0",
        "g",
        "250.0",
        "20",
    )
    assert left.detail["amounts"][0] == {"value": "1500", "unit": "mL"}


def test_paused_handed_over_taken_over_and_given_up(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    client.post(f"/runs/{run.pk}/pause/")
    assert "This run is put aside" in page_of(client, run)
    client.post(f"/runs/{run.pk}/resume/")
    other = make_person(Role.TECHNICIAN, workshop.house.operator, base=workshop.house.base)
    for _ in range(2):
        client.post(f"/runs/{run.pk}/hand-over/", {"to": other.pk, "note": "hoses are on"})
    run.refresh_from_db()
    assert run.performer == other
    assert run.hand_overs.count() == 1
    assert "has this run in hand. Nothing can be entered from here" in page_of(client, run)
    taken = browser_of(other)
    taken.post(f"/runs/{run.pk}/abandon/", {"reason": "hail is coming"})
    run.refresh_from_db()
    assert (run.state, run.abandoned_reason) == (RunState.ABANDONED, "hail is coming")
    assert "This run was given up" in page_of(client, run)


def test_whoever_has_not_got_the_run_in_hand_enters_nothing(workshop: Workshop) -> None:
    run = begin(workshop, browser(workshop))
    provide(workshop, browser(workshop), run)
    onlooker = browser(workshop, Role.INSPECTOR)
    sent = answer(onlooker, run, "clear")
    assert sent.status_code == 409
    assert onlooker.post(f"/runs/{run.pk}/steps/run/timer/", {"press": "on"}).status_code == 409
    assert not StepAnswer.objects.filter(run=run).exists()


def test_a_photograph_that_is_none_is_refused_with_its_reason(workshop: Workshop) -> None:
    client = browser(workshop)
    run = begin(workshop, client)
    provide(workshop, client, run)
    for step, data in (
        ("clear", {}),
        ("power", {"done": "yes"}),
        ("voltage", {"value": "28.1", "unit": "V"}),
        ("wet", OUTLETS),
        ("run", watch_times()),
        ("collect", COLLECTED),
    ):
        answer(client, run, step, **data)
    sent = answer(client, run, "picture", photo=SimpleUploadedFile("p.png", b"no picture", "image/png"))
    assert sent.status_code == 422
    assert "is neither JPEG nor PNG" in sent.content.decode()
    assert not run.photos.exists()
