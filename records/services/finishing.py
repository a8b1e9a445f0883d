"""The end of a run: everything is there, the judge gives the verdict, a failure raises its follow-up at once."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Reason
from fleet.common.wording import day as day_words
from fleet.selectors.aircraft import options_of
from fleet.services.trail import note
from records.gather.entry import run_payload
from records.gather.judging import content_of, latest_answers
from records.judge.bench_run import RunVerdict
from records.judge.bench_run_data import run_verdict_to_data
from records.judge.terms import Outcome
from records.models import BenchRun, RunState
from records.services.run_access import completed_day, lock_run, must_be_open, save_run
from records.services.verdicts import judge_whole
from scheduling.services.events import EventReport, report_event
from scheduling.services.tasks import hand_in_task
from scheduling.steps.terms import ProcedureContent


@transaction.atomic
def finish_run(*, actor: Actor, run_id: int, at: datetime | None = None) -> BenchRun:
    """Close the run for entries and store its verdict; a failed one reports its event in the same transaction.

    `at` is when the work was completed, where that was earlier (no reception); never before the last answer.
    Refuses while a step is unanswered (`steps_open`), equipment or fluid is not named (`provisions_missing`), or
    a calibration ended before the work did (`calibration_lapsed`).
    """
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    if run.state == RunState.FINISHED:
        return run
    must_be_open(run, actor)
    content = content_of(run)
    _all_answered(run, content)
    _all_provided(run, content)
    run.finished_at = _completed(run, at)
    _all_calibrated(run)
    verdict, definition = judge_whole(run, content)
    run.verdict = verdict.outcome.value
    run.verdict_detail = run_verdict_to_data(verdict, definition)
    run.state = RunState.FINISHED
    run.content = run_payload(run, content)
    save_run(run)
    run.task = hand_in_task(actor=actor, task_id=run.task_id)
    words = f"{run.task.title} on {run.aircraft}: run {run.number} finished, {verdict.outcome.value}"
    note(actor, "finish_run", "run", run.pk, words, {"reason": verdict.reason[:300]})
    if Outcome.FAIL in (verdict.outcome, verdict.measured):
        _report_failure(actor, run, content, verdict)
    return run


def _all_answered(run: BenchRun, content: ProcedureContent) -> None:
    answered = set(latest_answers(run, content))
    steps = content.steps_for(options_of(run.aircraft))
    missing = [step for step in steps if step.needs_answer and step.key not in answered]
    if missing:
        raise Conflict(
            "steps_open",
            f"{len(missing)} of {len(steps)} steps are not answered yet, first “{missing[0].title}”.",
            *(Reason("is not answered", step.key, step.title, "answer it") for step in missing),
        )


def _all_provided(run: BenchRun, content: ProcedureContent) -> None:
    used = set(run.equipment_uses.values_list("role", flat=True))
    needs = [need for need in content.equipment_for(options_of(run.aircraft)) if need.role not in used]
    reasons = [Reason("is not named", need.role, need.name, "say which one was used") for need in needs]
    if content.fluid is not None and not run.lot_uses.exists():
        reasons.append(Reason("is not named", "fluid", "", "say which approved lot was used"))
    if reasons:
        raise Conflict("provisions_missing", "Say what the work was done with before finishing.", *reasons)


def _completed(run: BenchRun, at: datetime | None) -> datetime:
    """When the work was completed: as said, but neither in the future nor before the last answer."""
    last = max(run.answers.values_list("captured_at", flat=True), default=run.started_at)
    return max(min(at or now(), now()), last, run.started_at)


def _all_calibrated(run: BenchRun) -> None:
    day = completed_day(run)
    lapsed = [
        Reason(
            f"lapsed on {day_words(use.calibration_due)}", use.role, str(use.equipment), "use other equipment"
        )
        for use in run.equipment_uses.select_related("equipment")
        if use.calibration_due is not None and use.calibration_due < day
    ]
    if lapsed:
        raise Conflict("calibration_lapsed", "A calibration ended before the work was completed.", *lapsed)


def _report_failure(actor: Actor, run: BenchRun, content: ProcedureContent, verdict: RunVerdict) -> None:
    """Nobody can leave a failure unsaid by not signing it: the follow-up is raised with the verdict."""
    if not content.follow_up_on_fail:
        return
    report_event(
        actor=actor,
        report=EventReport(
            aircraft_id=run.aircraft_id,
            kind_code=content.follow_up_on_fail,
            at=run.finished_at or now(),
            key=f"run-{run.pk}-failed",
            note=f"{run.task.title}, run {run.number}: {verdict.reason}"[:1000],
            detail={"run": run.pk, "verdict": verdict.outcome.value},
        ),
    )
