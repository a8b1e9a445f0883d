"""Reaching a run to change it: locked, of this operator, in a state that allows it."""

from __future__ import annotations

from datetime import date

from fleet.common.actor import Actor
from fleet.common.clock import local_day
from fleet.common.errors import Conflict, NotAllowed, NotFound
from fleet.models import Aircraft
from records.models import BenchRun, RunState


def person_of(actor: Actor) -> int:
    """The person acting: work is done and signed by people, never by a job (`person_needed`)."""
    if actor.user_id is None:
        raise NotAllowed("person_needed", "Work is done and signed by people.")
    return actor.user_id


def lock_aircraft(aircraft_id: int) -> None:
    """Lock an aircraft before anything on it.

    Reporting an event locks aircraft, then tasks. Whoever locks in that order too never waits in a circle.
    """
    Aircraft.objects.select_for_update(of=("self",)).get(pk=aircraft_id)


def lock_run(actor: Actor, run_id: int) -> BenchRun:
    """The run, locked for the transaction after its aircraft; a stranger's is not found."""
    mine = BenchRun.objects.filter(pk=run_id, operator_id=actor.operator_id)
    aircraft_id = mine.values_list("aircraft_id", flat=True).first()
    if aircraft_id is None:
        raise NotFound("run_not_found", "There is no such run here.")
    lock_aircraft(aircraft_id)
    return (
        mine.select_for_update(of=("self",))
        .select_related(
            "task__aircraft__base",
            "task__position",
            "task__component",
            "aircraft__base",
            "aircraft__aircraft_type",
            "procedure_version__procedure",
            "performer",
        )
        .get()
    )


def must_be_open(run: BenchRun, actor: Actor) -> None:
    """Refuse a change to a run that is not open, or that somebody else has in hand (`not_your_run`)."""
    must_be_yours(run, actor)
    if run.state != RunState.OPEN:
        raise Conflict("run_not_open", f"This run is {run.get_state_display()}: nothing can be entered now.")


def must_be_yours(run: BenchRun, actor: Actor) -> None:
    """Refuse (`not_your_run`) what only whoever has the run in hand may do."""
    if run.performer_id != actor.user_id:
        raise Conflict(
            "not_your_run",
            f"{run.performer.full_name} has this run in hand. Have it handed over to you first.",
        )


def save_run(run: BenchRun) -> None:
    """Save with the next version number, which is what If-Match compares."""
    run.version += 1
    run.save()


def run_day(run: BenchRun) -> date:
    """The local day on which the run began, at the aircraft's base."""
    return local_day(run.aircraft.base.zone, run.started_at)


def completed_day(run: BenchRun) -> date:
    """The local day on which the work was completed, at the aircraft's base."""
    return local_day(run.aircraft.base.zone, run.finished_at or run.started_at)
