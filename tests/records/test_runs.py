"""Opening, answering, repeating, pausing, handing over and giving up a run."""

from datetime import timedelta
from typing import Any

import pytest

from fleet.common.actor import Actor, Role, system_actor
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound, Refusal
from fleet.models import TrailEntry
from records.models import BenchRun, HandOver, Measurement, StepAnswer
from records.services.provisions import hand_over
from records.services.runs import (
    Entry,
    Opening,
    abandon_run,
    answer_step,
    open_run,
    pause_run,
    resume_run,
)
from scheduling.models import Task
from tests.makers import at, make_house
from tests.records.makers import Workshop, flow_answers, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    return shop


@pytest.fixture
def run(shop: Workshop) -> BenchRun:
    """A flow test just begun, its purge done."""
    shop.do_purge(at(0, 1))
    run = shop.open("panel-flow-test", at(0, 3))
    shop.provide(run)
    return run


def opening(shop: Workshop, key: str = "k", **values: Any) -> Opening:
    return Opening(shop.task("panel-purge").pk, key, values.pop("started_at", at(0, 1)))


def counts() -> tuple[int, int, int]:
    return BenchRun.objects.count(), StepAnswer.objects.count(), TrailEntry.objects.count()


def test_opening_starts_the_task_and_copies_the_counters(shop: Workshop) -> None:
    run, repeated = open_run(actor=shop.technician, opening=opening(shop))
    assert (repeated, run.number, run.minutes_at_start, run.landings_at_start) == (False, 1, 60_000, 1_200)
    assert run.task.state == "in_work"
    run.procedure_version.refresh_from_db()
    assert run.procedure_version.first_used_at is not None


def test_opening_twice_with_one_key_is_one_run(shop: Workshop) -> None:
    first, _ = open_run(actor=shop.technician, opening=opening(shop))
    before = counts()
    again, repeated = open_run(actor=shop.technician, opening=opening(shop))
    assert (again.pk, repeated, counts()) == (first.pk, True, before)


def test_a_second_run_of_the_task_is_refused_while_one_is_in_hand(shop: Workshop) -> None:
    open_run(actor=shop.technician, opening=opening(shop))
    with pytest.raises(Conflict, match="is in hand already") as refused:
        open_run(actor=shop.inspector, opening=opening(shop, "other"))
    assert (refused.value.code, BenchRun.objects.count()) == ("run_in_hand", 1)


def test_a_flow_test_cannot_begin_before_its_purge_is_closed(shop: Workshop) -> None:
    before = counts()
    with pytest.raises(Conflict, match="Panel purge must be closed first") as refused:
        shop.open("panel-flow-test", at(0, 3))
    assert (refused.value.code, counts()) == ("waits_for_other_work", before)
    assert shop.task("panel-flow-test").state == "raised"


def test_a_run_cannot_be_dated_before_the_work_it_waited_for(shop: Workshop) -> None:
    shop.do_purge(at(0, 1))
    with pytest.raises(Invalid, match="is before Panel purge was done"):
        shop.open("panel-flow-test", at(0, 1))


def test_a_start_within_clock_error_of_what_came_first_begins_with_it(shop: Workshop) -> None:
    purge = shop.do_purge(at(0, 1))
    assert purge.run is not None
    run = shop.open("panel-flow-test", at(0, 1, 58))
    assert run.started_at == purge.run.finished_at


def test_a_start_in_the_future_counts_from_now(shop: Workshop) -> None:
    run, _ = open_run(actor=shop.technician, opening=opening(shop, started_at=now() + timedelta(days=3)))
    assert run.started_at <= now()


@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_only_those_who_work_on_aircraft_open_runs(shop: Workshop, role: Role) -> None:
    before = counts()
    with pytest.raises(NotAllowed):
        open_run(actor=shop.house.actor(role), opening=opening(shop))
    assert counts() == before


def test_a_job_never_works_on_an_aircraft(shop: Workshop) -> None:
    job = system_actor(shop.house.operator.pk, "night")
    with pytest.raises(NotAllowed) as refused:
        open_run(actor=job, opening=opening(shop))
    assert (refused.value.code, BenchRun.objects.count()) == ("person_needed", 0)


def test_another_operators_task_is_not_found(shop: Workshop) -> None:
    stranger = make_house().actor(Role.TECHNICIAN)
    with pytest.raises(NotFound):
        open_run(actor=stranger, opening=opening(shop))
    assert BenchRun.objects.count() == 0


def test_steps_are_worked_in_order(shop: Workshop, run: BenchRun) -> None:
    before = counts()
    with pytest.raises(Conflict, match="“Propeller area clear” comes first") as refused:
        shop.answer(run, "power", {"done": True})
    assert (refused.value.code, counts()) == ("step_order", before)


def test_a_step_of_an_option_the_aircraft_lacks_is_unknown(shop: Workshop, run: BenchRun) -> None:
    with pytest.raises(Invalid, match="is no step of this procedure on this aircraft"):
        shop.answer(run, "glass", {"done": True})


def test_a_step_of_an_option_the_aircraft_has_is_asked_for() -> None:
    shop = make_workshop(option_codes=["glass-cockpit"])
    shop.report()
    shop.do_purge(at(0, 1))
    run = shop.open("panel-flow-test", at(0, 3))
    shop.answer(run, "clear", {"acknowledged": True})
    shop.answer(run, "power", {"done": True})
    with pytest.raises(Conflict, match="“Display shows NORMAL” comes first"):
        shop.answer(run, "voltage", {"value": "28.0", "unit": "V"})


def test_a_note_need_not_be_answered_but_may_be(shop: Workshop, run: BenchRun) -> None:
    shop.answer(run, "clear", {"acknowledged": True})
    shop.answer(run, "why", {"read": True})
    shop.answer(run, "power", {"done": True})
    assert list(run.answers.values_list("step", flat=True)) == ["clear", "why", "power"]


def upto(shop: Workshop, run: BenchRun, last: str, **readings: str) -> None:
    values = {"left": "1500", "right": "1510", "volts": "28.1"} | readings
    for step, answer in flow_answers(run, **values).items():
        shop.answer(run, step, answer)
        if step == last:
            return


def test_an_answer_sent_twice_is_kept_once(shop: Workshop, run: BenchRun) -> None:
    entry = Entry("clear", "same", {"acknowledged": True}, at(0, 3, 1))
    first, repeated = answer_step(actor=shop.technician, run_id=run.pk, entry=entry)
    before = counts()
    again, repeated_again = answer_step(actor=shop.technician, run_id=run.pk, entry=entry)
    assert (repeated, repeated_again, again.pk, counts()) == (False, True, first.pk, before)


def test_a_key_used_for_another_answer_is_refused(shop: Workshop, run: BenchRun) -> None:
    entry = Entry("clear", "same", {"acknowledged": True}, at(0, 3, 1))
    answer_step(actor=shop.technician, run_id=run.pk, entry=entry)
    other = Entry("power", "same", {"done": True}, at(0, 3, 1))
    with pytest.raises(Conflict) as refused:
        answer_step(actor=shop.technician, run_id=run.pk, entry=other)
    assert refused.value.code == "key_reused"


def test_a_repeat_needs_its_reason_and_both_answers_are_kept(shop: Workshop, run: BenchRun) -> None:
    upto(shop, run, "voltage", volts="27.0")
    with pytest.raises(Conflict) as refused:
        shop.answer(run, "voltage", {"value": "28.0", "unit": "V"})
    assert refused.value.code == "repeat_needs_reason"
    shop.answer(run, "voltage", {"value": "28.0", "unit": "V"}, repeat_reason="lead was loose")
    kept = list(run.measurements.values_list("value", "verdict"))
    assert kept == [("27.0", "invalid"), ("28.0", "pass")]
    assert list(run.answers.filter(step="voltage").values_list("repeat_reason", flat=True)) == [
        "",
        "lead was loose",
    ]


def test_what_was_collected_in_a_repeated_run_is_to_be_collected_again(shop: Workshop, run: BenchRun) -> None:
    upto(shop, run, "collect")
    again = flow_answers(run, "1500", "1510", "28.1")["run"]
    shop.answer(run, "run", again, repeat_reason="hose slipped")
    with pytest.raises(Conflict, match="“Collect both sides” comes first"):
        shop.answer(run, "picture", {"photo_key": "x"})


def test_each_answer_says_at_once_what_it_came_to(shop: Workshop, run: BenchRun) -> None:
    upto(shop, run, "collect", left="1249.9")
    collected = run.answers.get(step="collect")
    assert collected.outcome == "fail"
    assert "Left side collected: 1249.9 mL" in collected.outcome_words
    left = Measurement.objects.get(run=run, point="flow-left")
    assert (left.value, left.unit, left.verdict, left.margin) == ("1249.9", "mL", "fail", "-0.1")
    assert left.limit == {"kind": "nominal", "nominal": "1500", "plus": "450", "minus": "250", "unit": "mL"}


def test_a_moment_in_the_future_or_before_the_run_is_refused(shop: Workshop, run: BenchRun) -> None:
    for when, words in ((now() + timedelta(hours=1), "future"), (at(0, 1), "before the run began")):
        entry = Entry("clear", "k1", {"acknowledged": True}, when)
        with pytest.raises(Invalid, match=words):
            answer_step(actor=shop.technician, run_id=run.pk, entry=entry)
    assert run.answers.count() == 0


def test_only_whoever_has_the_run_in_hand_answers(shop: Workshop, run: BenchRun) -> None:
    entry = Entry("clear", "k1", {"acknowledged": True}, at(0, 3, 1))
    with pytest.raises(Conflict, match="has this run in hand") as refused:
        answer_step(actor=shop.inspector, run_id=run.pk, entry=entry)
    assert (refused.value.code, run.answers.count()) == ("not_your_run", 0)


def test_a_paused_run_takes_no_answers_until_it_is_resumed(shop: Workshop, run: BenchRun) -> None:
    pause_run(actor=shop.technician, run_id=run.pk)
    with pytest.raises(Conflict) as refused:
        shop.answer(run, "clear", {"acknowledged": True})
    assert refused.value.code == "run_not_open"
    resume_run(actor=shop.technician, run_id=run.pk)
    shop.answer(run, "clear", {"acknowledged": True})
    assert run.answers.count() == 1


def test_a_run_handed_over_belongs_to_the_colleague(shop: Workshop, run: BenchRun) -> None:
    to = shop.house.person(Role.INSPECTOR)
    hand_over(actor=shop.technician, run_id=run.pk, to_user_id=to.pk, note_words="voltage next")
    entry = Entry("clear", "k1", {"acknowledged": True}, at(0, 3, 1))
    answer_step(actor=shop.inspector, run_id=run.pk, entry=entry)
    with pytest.raises(Conflict):
        shop.answer(run, "power", {"done": True})
    assert HandOver.objects.values_list("note", flat=True).get() == "voltage next"


@pytest.mark.parametrize(
    ("role", "words"), [(Role.AUDITOR, "does no maintenance work"), (Role.TECHNICIAN, "has this run already")]
)
def test_a_run_is_handed_over_only_to_another_who_works(
    shop: Workshop, run: BenchRun, role: Role, words: str
) -> None:
    to = shop.house.person(role)
    with pytest.raises(Invalid, match=words):
        hand_over(actor=shop.technician, run_id=run.pk, to_user_id=to.pk, note_words="x")
    assert HandOver.objects.count() == 0


def test_an_abandoned_run_keeps_what_was_entered_and_reopens_its_task(shop: Workshop, run: BenchRun) -> None:
    shop.answer(run, "clear", {"acknowledged": True})
    abandon_run(actor=shop.technician, run_id=run.pk, reason="pump tripped")
    task = Task.objects.get(pk=run.task_id)
    assert (task.state, run.answers.count()) == ("raised", 1)
    assert "run 1 abandoned: pump tripped" in list(task.causes.values_list("words", flat=True))
    again = shop.open("panel-flow-test", at(0, 4))
    assert again.number == 2


def test_abandoning_needs_a_reason(shop: Workshop, run: BenchRun) -> None:
    with pytest.raises(Invalid, match="reason"):
        abandon_run(actor=shop.technician, run_id=run.pk, reason="  ")
    run.refresh_from_db()
    assert run.state == "open"


def every_command(actor: Actor, run: BenchRun) -> list[Any]:
    entry = Entry("clear", "k9", {"acknowledged": True}, at(0, 3, 1))
    return [
        lambda: answer_step(actor=actor, run_id=run.pk, entry=entry),
        lambda: pause_run(actor=actor, run_id=run.pk),
        lambda: resume_run(actor=actor, run_id=run.pk),
        lambda: abandon_run(actor=actor, run_id=run.pk, reason="x"),
        lambda: hand_over(actor=actor, run_id=run.pk, to_user_id=run.performer_id, note_words="x"),
    ]


@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_no_command_on_a_run_is_for_those_who_do_not_work_on_aircraft(
    shop: Workshop, run: BenchRun, role: Role
) -> None:
    before = counts()
    for command in every_command(shop.house.actor(role), run):
        with pytest.raises(NotAllowed):
            command()
    run.refresh_from_db()
    assert (counts(), run.state) == (before, "open")


def test_another_operators_run_is_not_found(shop: Workshop, run: BenchRun) -> None:
    before = counts()
    for command in every_command(make_house().actor(Role.TECHNICIAN), run):
        with pytest.raises(NotFound):
            command()
    assert counts() == before


def test_every_refusal_carries_a_code_and_a_sentence(shop: Workshop, run: BenchRun) -> None:
    with pytest.raises(Refusal) as refused:
        shop.answer(run, "nothing", {})
    assert (refused.value.code, bool(refused.value.sentence)) == ("bad_answer", True)
