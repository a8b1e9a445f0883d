"""Background jobs of the scheduling room: each claims rows or calls one service; running one twice does no harm."""

from __future__ import annotations

import os
import socket

from celery import shared_task

from fleet.common.actor import system_actor
from fleet.models import Operator
from scheduling.services.digests import write_digests
from scheduling.services.due import heal_due_everywhere, raise_due_tasks_everywhere
from scheduling.services.plans import solve_asked
from scheduling.services.reminder_sending import send_waiting
from scheduling.services.reminders import escalate_unacknowledged, write_due_reminders


def worker_name() -> str:
    """This process on this machine, for claims."""
    return f"{socket.gethostname()[:12]}-{os.getpid()}"


@shared_task
def write_reminders() -> None:
    """Have every operator's matters looked at, each by itself: trouble with one does not silence the others."""
    for operator_id in Operator.objects.values_list("pk", flat=True):
        write_reminders_of.delay(operator_id)


@shared_task
def write_reminders_of(operator_id: int) -> None:
    """Look at one operator's matters, and write what is to be told."""
    actor = system_actor(operator_id, "reminders")
    write_due_reminders(actor=actor)
    escalate_unacknowledged(actor=actor)
    write_digests(actor=actor)


@shared_task
def send_reminders() -> None:
    """Send what waits."""
    send_waiting(worker=worker_name())


@shared_task
def solve_weeks() -> None:
    """Work out every week that was asked for."""
    solve_asked()


@shared_task
def refresh_due() -> None:
    """Bring the due list in step with flights, events and measured use; a list in step is not touched."""
    heal_due_everywhere()


@shared_task
def raise_due_work() -> None:
    """The morning's round: one task for everything due soon or worse that has none open."""
    raise_due_tasks_everywhere()
