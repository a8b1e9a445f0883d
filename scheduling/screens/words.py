"""Words and marks that the scheduling screens share."""

from __future__ import annotations

from typing import Any

from django.urls import NoReverseMatch, reverse

from fleet.common.actor import Actor
from fleet.selectors.people import bases
from scheduling.models import Task, TaskState
from scheduling.status import FlightState, OperatingStatus, Reason

LEVELS = {
    FlightState.NOT_RELEASABLE: "stop",
    FlightState.RESTRICTED_ICING: "soon",
    FlightState.FREE_TO_FLY: "clear",
}
SHORT = {
    FlightState.NOT_RELEASABLE: "Not releasable",
    FlightState.RESTRICTED_ICING: "Restricted: no icing",
    FlightState.FREE_TO_FLY: "Free to fly",
}
TASK_LEVELS = {
    TaskState.RAISED: "soon",
    TaskState.PLANNED: "soon",
    TaskState.IN_WORK: "stop",
    TaskState.AWAITING_SIGNATURE: "stop",
    TaskState.CLOSED: "clear",
    TaskState.WITHDRAWN: "unknown",
}


def link(name: str, *args: object) -> str:
    """The address of a page of another room, empty while there is none."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def reason_url(reason: Reason) -> str:
    """Where a reason leads: its task, or its line of the programme."""
    if reason.task_id is not None:
        return link("records:task", reason.task_id)
    return link("scheduling:due-item", reason.due_id) if reason.due_id is not None else ""


def status_parts(status: OperatingStatus) -> dict[str, Any]:
    """What the status piece of a page is given."""
    return {
        "level": LEVELS[status.state],
        "words": SHORT[status.state],
        "reasons": [(reason.words, reason_url(reason)) for reason in status.reasons],
    }


def task_level(task: Task) -> str:
    """The mark of a task's state."""
    return TASK_LEVELS[TaskState(task.state)]


def base_choices(actor: Actor) -> list[tuple[str, str]]:
    """Code and name of every base, for a filter."""
    return list(bases(actor).values_list("code", "name"))
