"""Reaching a run to change it: locked, of this operator, in a state that allows it."""

from __future__ import annotations

from fleet.common.actor import Actor
from fleet.common.errors import Conflict, NotFound
from records.models import BenchRun, RunState


def lock_run(actor: Actor, run_id: int) -> BenchRun:
    """The run, locked for the transaction; a stranger's is not found."""
    run = (
        BenchRun.objects.select_for_update(of=("self",))
        .filter(pk=run_id, operator_id=actor.operator_id)
        .select_related("task__aircraft__base", "aircraft__base", "procedure_version__procedure", "performer")
        .first()
    )
    if run is None:
        raise NotFound("run_not_found", "There is no such run here.")
    return run


def must_be_open(run: BenchRun, actor: Actor) -> None:
    """Refuse a change to a run that is not open, or that somebody else has in hand (`not_your_run`)."""
    if run.state != RunState.OPEN:
        raise Conflict("run_not_open", f"This run is {run.get_state_display()}: nothing can be entered now.")
    if run.performer_id != actor.user_id:
        raise Conflict(
            "not_your_run",
            f"{run.performer.full_name} has this run in hand. Have it handed over to you first.",
        )


def save_run(run: BenchRun) -> None:
    """Save with the next version number, which is what If-Match compares."""
    run.version += 1
    run.save()
