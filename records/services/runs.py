"""Performing a procedure: open a run, answer its steps in order, finish it and let the judge speak."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Reason, wrong
from fleet.selectors.aircraft import options_of, outlets_of
from fleet.selectors.meters import counters_at
from fleet.services.trail import note
from records.gather.judging import content_of, latest_answers
from records.judge.terms import Outcome
from records.models import BenchRun, RunState, StepAnswer
from records.services.run_access import (
    lock_aircraft,
    lock_run,
    must_be_open,
    must_be_yours,
    person_of,
    save_run,
)
from records.services.verdicts import judge_answer, write_measurements
from scheduling.models import ProcedureVersion, Task, TaskState
from scheduling.services.tasks import lock_task, must_not_wait, return_task, start_task
from scheduling.steps.answers import check_answer
from scheduling.steps.terms import ProcedureContent, Step, StepKind

_wrong = partial(wrong, code="bad_answer")

CLOCK_TOLERANCE = timedelta(minutes=5)
LONGEST_KEY = 100


@dataclass(frozen=True, slots=True)
class Opening:
    """Somebody begins a run. `key` makes sending it twice harmless.

    `procedure_version` is the number of the text the reader has before them, where that may be an old one.
    """

    task_id: int
    key: str
    started_at: datetime
    procedure_version: int | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One step answered. `key` is the command's own id, `captured_at` the moment it was entered."""

    step: str
    key: str
    answer: Mapping[str, Any]
    captured_at: datetime
    repeat_reason: str = ""


@transaction.atomic
def open_run(*, actor: Actor, opening: Opening) -> tuple[BenchRun, bool]:
    """Start the task and open its run; the flag says it was open already under this key.

    Refuses while the task waits for other work, or another run of it is in hand (`run_in_hand`).
    """
    require(actor, Verb.PERFORM)
    task = _lock_task(actor, opening)
    known = BenchRun.objects.filter(task=task, key=opening.key).first()
    if known is not None:
        return known, True
    in_hand = task.runs.filter(state__in=[RunState.OPEN, RunState.PAUSED, RunState.FINISHED]).first()
    if in_hand is not None:
        raise Conflict(
            "run_in_hand",
            f"{task.title} is in hand already: {in_hand.performer.full_name} has run {in_hand.number} "
            f"({in_hand.get_state_display()}). Take it over, or have it abandoned.",
        )
    must_not_wait(task)
    started_at = _begin(task, opening)
    task = start_task(actor=actor, task_id=task.pk, at=started_at)
    counters = counters_at(task.aircraft_id, started_at)
    run = BenchRun.objects.create(
        operator_id=actor.operator_id,
        task=task,
        aircraft=task.aircraft,
        procedure_version=_version(task, opening),
        number=task.runs.count() + 1,
        key=opening.key,
        opened_by_id=person_of(actor),
        performer_id=person_of(actor),
        started_at=started_at,
        minutes_at_start=counters.minutes,
        landings_at_start=counters.landings,
    )
    note(actor, "open_run", "run", run.pk, f"{task.title} on {task.aircraft}: run {run.number} begun")
    return run, False


def _lock_task(actor: Actor, opening: Opening) -> Task:
    """The task, locked after its aircraft; a stranger's is not found. Refuses an opening without a usable key."""
    mine = Task.objects.filter(pk=opening.task_id, operator_id=actor.operator_id)
    aircraft_id = mine.values_list("aircraft_id", flat=True).first()
    if aircraft_id is not None:
        lock_aircraft(aircraft_id)
    task = lock_task(actor, opening.task_id)
    _check_key(opening.key)
    return task


def _check_key(key: str) -> None:
    if not key.strip() or len(key) > LONGEST_KEY:
        detail = f"is longer than {LONGEST_KEY} characters" if key.strip() else "is missing"
        raise _wrong("key", key[:20], detail, "send a key of your own that makes repeating harmless")


def _version(task: Task, opening: Opening) -> ProcedureVersion:
    version = task.procedure_version
    if version is None:
        raise Conflict("no_procedure", f"{task.title} follows no procedure and cannot be run step by step.")
    if opening.procedure_version not in (None, version.number):
        raise Conflict(
            "procedure_changed",
            f"{task.title} is worked by version {version.number} now, not {opening.procedure_version}: load it again.",
            Reason(
                "is not in force",
                "procedure_version",
                str(opening.procedure_version),
                "load the procedure again",
            ),
        )
    return version


def _begin(task: Task, opening: Opening) -> datetime:
    """When the run began: not in the future, and not before the work it had to wait for was done."""
    started_at = min(opening.started_at, now())
    firsts = task.waits.filter(first__closed_at__isnull=False).select_related("first")
    done = max(
        ((row.first.closed_at, row.first.title) for row in firsts if row.first.closed_at), default=None
    )
    if done is None or started_at >= done[0]:
        return started_at
    if done[0] - started_at <= CLOCK_TOLERANCE:
        return done[0]
    raise _wrong(
        "started_at", opening.started_at.isoformat(), f"is before {done[1]} was done", "begin after it"
    )


@transaction.atomic
def answer_step(*, actor: Actor, run_id: int, entry: Entry) -> tuple[StepAnswer, bool]:
    """Keep one answer as entered; the flag says this key was kept before.

    Refuses a step this aircraft does not have, a step before its predecessors (`step_order`), a second answer
    without its reason (`repeat_needs_reason`), and an answer that lacks what the step asks for.
    """
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    known = run.answers.filter(key=entry.key).first()
    if known is not None:
        return _same_answer(known, entry), True
    must_be_open(run, actor)
    content = content_of(run)
    step = _step(run, content, entry)
    check_answer(step, entry.answer, _outlet_codes(run, step))
    _check_photo(run, step, entry)
    _check_time(run, entry)
    outcome = judge_answer(run, content, step, entry.answer)
    answer = StepAnswer.objects.create(
        run=run,
        step=step.key,
        key=entry.key,
        answer=dict(entry.answer),
        outcome=outcome.outcome,
        outcome_words=outcome.words[:300],
        repeat_reason=entry.repeat_reason.strip(),
        captured_at=entry.captured_at,
        received_at=now(),
        by_id=person_of(actor),
    )
    write_measurements(run, step, answer, outcome)
    save_run(run)
    note(actor, "answer_step", "run", run.pk, f"{step.title}: {outcome.words or 'answered'}")
    return answer, False


def _same_answer(known: StepAnswer, entry: Entry) -> StepAnswer:
    if known.step != entry.step or known.answer != dict(entry.answer):
        raise Conflict(
            "key_reused",
            "This key was used for another answer of this run.",
            Reason("was used for another answer", "key", entry.key, "send a fresh key"),
        )
    return known


def _step(run: BenchRun, content: ProcedureContent, entry: Entry) -> Step:
    """The step that may be answered now."""
    steps = content.steps_for(options_of(run.aircraft))
    step = next((each for each in steps if each.key == entry.step), None)
    if step is None:
        raise _wrong(
            "step", entry.step, "is no step of this procedure on this aircraft", "load the procedure again"
        )
    answered = set(latest_answers(run, content))
    before = [each for each in steps[: steps.index(step)] if each.needs_answer and each.key not in answered]
    if before:
        raise Conflict("step_order", f"“{before[0].title}” comes first: steps are worked in order.")
    if run.answers.filter(step=step.key).exists() and not entry.repeat_reason.strip():
        raise Conflict(
            "repeat_needs_reason",
            f"“{step.title}” is answered already. Both answers are kept; say why it is repeated.",
            Reason("is missing", "repeat_reason", remedy="say why it is repeated"),
        )
    return step


def _outlet_codes(run: BenchRun, step: Step) -> frozenset[str]:
    if step.kind is not StepKind.OUTLETS:
        return frozenset()
    return frozenset(outlets_of(run.aircraft, step.zones).values_list("code", flat=True))


def _check_photo(run: BenchRun, step: Step, entry: Entry) -> None:
    if step.kind is not StepKind.PHOTO:
        return
    key = str(entry.answer["photo_key"])
    if not run.photos.filter(key=key, step=step.key).exists():
        raise _wrong("photo_key", key, "is no photo of this step", "send the photo first")


def _check_time(run: BenchRun, entry: Entry) -> None:
    _check_key(entry.key)
    written = entry.captured_at.isoformat()
    if entry.captured_at > now() + CLOCK_TOLERANCE:
        detail = "lies in the future: the clock it was taken with is ahead"
        raise _wrong("captured_at", written, detail, "set the clock and send it again")
    if entry.captured_at < run.started_at - CLOCK_TOLERANCE:
        raise _wrong("captured_at", written, "is before the run began", "check the time and send it again")


@transaction.atomic
def pause_run(*, actor: Actor, run_id: int) -> BenchRun:
    """Put a run aside; nothing is lost. The aircraft stays not releasable meanwhile."""
    return _shift(actor, run_id, RunState.OPEN, RunState.PAUSED, "paused")


@transaction.atomic
def resume_run(*, actor: Actor, run_id: int) -> BenchRun:
    """Go on with a paused run."""
    return _shift(actor, run_id, RunState.PAUSED, RunState.OPEN, "resumed")


def _shift(actor: Actor, run_id: int, old: RunState, new: RunState, word: str) -> BenchRun:
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    must_be_yours(run, actor)
    if run.state == new:
        return run
    if run.state != old:
        raise Conflict("wrong_state", f"This run is {run.get_state_display()} and cannot be {word}.")
    run.state = new
    save_run(run)
    note(actor, f"{word}_run", "run", run.pk, f"{run.task.title}: run {run.number} {word} by {actor.name}")
    return run


@transaction.atomic
def abandon_run(*, actor: Actor, run_id: int, reason: str) -> BenchRun:
    """Give a run up with a reason: what was entered stays readable, the task stands open again.

    A finished run that failed is not given up (`failure_stays`): it is signed as it is. One that passed may be,
    where other work overtook it or the inspector does not agree.
    """
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    if run.state == RunState.ABANDONED:
        return run
    if not reason.strip():
        raise _wrong("reason", "", "is missing", "say why the run is given up")
    _must_be_abandonable(run)
    run.state = RunState.ABANDONED
    run.abandoned_reason = reason.strip()[:300]
    run.finished_at = run.finished_at or now()
    save_run(run)
    if run.task.state in (TaskState.IN_WORK, TaskState.AWAITING_SIGNATURE):
        words = f"run {run.number} abandoned: {run.abandoned_reason}"
        run.task = return_task(actor=actor, task_id=run.task_id, words=words)
    note(actor, "abandon_run", "run", run.pk, f"{run.task.title}: run {run.number} abandoned, {reason}")
    return run


def _must_be_abandonable(run: BenchRun) -> None:
    if run.state == RunState.SIGNED:
        raise Conflict("wrong_state", "This run is signed: write an amendment instead.")
    failed = Outcome.FAIL in (run.verdict, run.verdict_detail.get("measured"))
    if run.state == RunState.FINISHED and failed:
        raise Conflict("failure_stays", "This run failed: it is signed as it is, not given up.")
