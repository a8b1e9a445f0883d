"""What the published plan holds for one person's shift, and which finished runs wait for a signature."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from fleet.common.actor import Actor, Verb
from records.models import BenchRun, RunState, Signature
from scheduling.models import Shift, Slot, WeekPlan

PERFORMED, INSPECTED = Signature.Meaning.PERFORMED, Signature.Meaning.INSPECTED


@dataclass(frozen=True, slots=True)
class SlotState:
    """When and where the published plan has a task, and whether the reader is one of its people."""

    starts_at: datetime
    ends_at: datetime
    bay: str
    is_mine: bool


@dataclass(frozen=True, slots=True)
class ToSign:
    """A finished run, the signature it waits for, and whether it is the reader's to give."""

    run: BenchRun
    meaning: str
    is_mine: bool


def shift_of(actor: Actor, moment: datetime) -> Shift | None:
    """The shift the person is in, else their next one."""
    rows = Shift.objects.filter(person_id=actor.user_id, ends_at__gt=moment).select_related("base")
    return rows.order_by("starts_at").first()


def slots_of(actor: Actor, task_ids: Iterable[int], moment: datetime) -> dict[int, SlotState]:
    """Where the published plans have these tasks: the next slot of each, else its last one."""
    rows = (
        Slot.objects.filter(task__in=list(task_ids), plan__state=WeekPlan.State.PUBLISHED)
        .select_related("bay")
        .prefetch_related("people")
        .order_by("-starts_at")
    )
    found: dict[int, SlotState] = {}
    for row in rows:
        if row.task_id in found and row.ends_at <= moment:
            continue
        is_mine = any(person.pk == actor.user_id for person in row.people.all())
        found[row.task_id] = SlotState(row.starts_at, row.ends_at, row.bay.name if row.bay else "", is_mine)
    return found


def waiting_signatures(actor: Actor) -> Iterable[ToSign]:
    """Finished runs that still want a signature: my own, and those I may inspect. Mine to sign come first."""
    rows = (
        BenchRun.objects.filter(operator_id=actor.operator_id, state=RunState.FINISHED)
        .select_related("task", "aircraft", "performer", "procedure_version")
        .prefetch_related("signatures")
        .defer("content", "procedure_version__content")
        .order_by("finished_at", "pk")
    )
    waiting = [_waits(row, actor) for row in rows if _concerns(row, actor)]
    return sorted(waiting, key=lambda each: not each.is_mine)


def _concerns(run: BenchRun, actor: Actor) -> bool:
    return run.performer_id == actor.user_id or actor.may(Verb.INSPECT)


def _waits(run: BenchRun, actor: Actor) -> ToSign:
    signed = {signature.meaning for signature in run.signatures.all()}
    meaning = INSPECTED if PERFORMED in signed else PERFORMED
    is_performer = run.performer_id == actor.user_id
    return ToSign(run, meaning.value, is_performer if meaning == PERFORMED else not is_performer)
