"""The operating status as a page shows it: level, words, and every reason with where it leads."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from records.screens.links import link
from scheduling.status import FlightState, OperatingStatus, Reason

LEVELS = {
    FlightState.FREE_TO_FLY: "clear",
    FlightState.RESTRICTED_ICING: "soon",
    FlightState.NOT_RELEASABLE: "stop",
}


@dataclass(frozen=True, slots=True)
class ReasonView:
    """One reason: its mark, its words, and the page it leads to (empty where there is none)."""

    level: str
    words: str
    url: str


@dataclass(frozen=True, slots=True)
class StatusView:
    """A status in words with its reasons, worst first."""

    level: str
    words: str
    reasons: tuple[ReasonView, ...]


def status_view(status: OperatingStatus, registration: str) -> StatusView:
    """The status of one aircraft for its page."""
    reasons = tuple(
        ReasonView(LEVELS[reason.state], reason.words, _leads_to(reason, registration))
        for reason in status.reasons
    )
    words = status.headline()
    return StatusView(LEVELS[status.state], words[0].upper() + words[1:], reasons)


def _leads_to(reason: Reason, registration: str) -> str:
    if reason.task_id is not None:
        return reverse("records:task", args=[reason.task_id])
    if reason.due_id is not None:
        return link("scheduling:due-item", reason.due_id) or link(
            "scheduling:due-list", query=f"aircraft={registration}"
        )
    if reason.relief_id is not None:
        return reverse("records:aircraft", args=[registration]) + "#relief"
    return ""
