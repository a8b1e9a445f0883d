"""Work was done: the due item it answers counts from here. The only place that moves a last-done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fleet.common.actor import Actor
from fleet.selectors.meters import Counters
from scheduling.models import Task


@dataclass(frozen=True, slots=True)
class Completion:
    """A task was completed at a moment, at these counters, proven by this signed record."""

    task_id: int
    at: datetime
    counters: Counters
    proof: str


def move_last_done(*, actor: Actor, task: Task, completion: Completion) -> None:
    """Bring every due item that this work answers to the new last-done."""
