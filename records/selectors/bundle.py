"""Everything a technician needs today, in one piece that a phone can keep: tasks, texts, tools, lots, people.

A constant number of queries, whatever the number of tasks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Max, Q, QuerySet

from fleet.common.actor import POLICY, Actor, Verb
from fleet.common.clock import local_day, now
from fleet.common.wording import day as in_words
from fleet.models import Aircraft, Base, Equipment, FluidLot, Membership, Position, User
from fleet.selectors.aircraft import aircraft_list
from records.models import BenchRun, RunState, SignedRecord
from records.selectors.bundle_texts import text_for
from records.selectors.shift_work import SlotState, ToSign, shift_of, slots_of, waiting_signatures
from scheduling.models import EventKind, ProcedureVersion, Shift, Task
from scheduling.selectors.events import reportable_kinds
from scheduling.selectors.tasks import open_tasks

IN_HAND = (RunState.OPEN, RunState.PAUSED, RunState.FINISHED)
OUTLET_FIELDS = ("code", "name", "zone", "side", "order", "is_outlet", "map_x", "map_y")


@dataclass(frozen=True, slots=True)
class ToolState:
    """A piece of equipment and whether it may be used today, in words."""

    equipment: Equipment
    is_usable: bool
    words: str
    calibration_due: date | None


@dataclass(frozen=True, slots=True)
class LotState:
    """A fluid lot and whether it may be used today, in words."""

    lot: FluidLot
    is_usable: bool
    words: str


@dataclass(frozen=True, slots=True)
class TaskPiece:
    """One task with its text for this aircraft, the run in hand and the previous result."""

    task: Task
    version: ProcedureVersion | None
    text: Mapping[str, Any] | None
    run: BenchRun | None
    previous: SignedRecord | None
    slot: SlotState | None


@dataclass(frozen=True, slots=True)
class AircraftPiece:
    """An aircraft with its options and every place it has, outlets with their place on the map."""

    aircraft: Aircraft
    options: tuple[str, ...]
    positions: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class Bundle:
    """One person's work, as of `made_at`."""

    made_at: datetime
    person: Actor
    day: date
    shift: Shift | None
    to_sign: tuple[ToSign, ...]
    tasks: tuple[TaskPiece, ...]
    aircraft: tuple[AircraftPiece, ...]
    equipment: tuple[ToolState, ...]
    lots: tuple[LotState, ...]
    people: tuple[User, ...]
    event_kinds: tuple[EventKind, ...]


def work_bundle(actor: Actor) -> Bundle:
    """My open tasks and those nobody has at my base, with all that working on them needs."""
    day, moment = _day(actor), now()
    rows = list(_mine(actor))
    return Bundle(
        made_at=moment,
        person=actor,
        day=day,
        shift=shift_of(actor, moment),
        to_sign=tuple(waiting_signatures(actor)),
        tasks=tuple(_pieces(rows, slots_of(actor, [row.pk for row in rows], moment))),
        aircraft=tuple(_aircraft(actor)),
        equipment=tuple(_tools(actor, day)),
        lots=tuple(_lots(actor, day)),
        people=tuple(_colleagues(actor)),
        event_kinds=tuple(reportable_kinds(actor)),
    )


def _day(actor: Actor) -> date:
    base = Base.objects.filter(pk=actor.base_id).first() if actor.base_id else None
    return local_day(base.zone if base else "UTC")


def _mine(actor: Actor) -> QuerySet[Task]:
    mine = Q(assigned_to_id=actor.user_id) | Q(runs__performer_id=actor.user_id, runs__state__in=IN_HAND)
    free = Q(assigned_to=None, aircraft__base_id=actor.base_id) if actor.base_id else Q(assigned_to=None)
    rows = open_tasks(actor).filter(mine | free).distinct()
    return rows.select_related(
        "aircraft__base",
        "aircraft__aircraft_type",
        "procedure",
        "procedure_version",
        "position",
        "component__kind",
    ).prefetch_related("aircraft__options")


def _pieces(rows: list[Task], slots: Mapping[int, SlotState]) -> Iterable[TaskPiece]:
    versions = _versions(rows)
    runs = _runs(rows)
    previous = _previous(rows)
    for task in rows:
        version = task.procedure_version or versions.get(task.procedure_id or 0)
        options = frozenset(option.code for option in task.aircraft.options.all())
        yield TaskPiece(
            task=task,
            version=version,
            text=text_for(version.content, options) if version else None,
            run=runs.get(task.pk),
            previous=previous.get((task.aircraft_id, task.procedure_id or 0)),
            slot=slots.get(task.pk),
        )


def _versions(rows: list[Task]) -> dict[int, ProcedureVersion]:
    ids = {task.procedure_id for task in rows if task.procedure_id}
    found = ProcedureVersion.objects.filter(procedure__in=ids, state=ProcedureVersion.State.CURRENT)
    return {version.procedure_id: version for version in found.select_related("procedure")}


def _runs(rows: list[Task]) -> dict[int, BenchRun]:
    found = (
        BenchRun.objects.filter(task__in=[task.pk for task in rows], state__in=IN_HAND)
        .select_related("task", "aircraft", "performer", "procedure_version__procedure", "record")
        .prefetch_related(
            "answers__by",
            "measurements",
            "equipment_uses__equipment",
            "lot_uses__lot",
            "photos",
            "hand_overs__from_user",
            "hand_overs__to_user",
            "signatures",
        )
    )
    return {run.task_id: run for run in found}


def _previous(rows: list[Task]) -> dict[tuple[int, int], SignedRecord]:
    """The newest sealed record of each procedure on each aircraft."""
    newest = (
        SignedRecord.objects.filter(
            aircraft__in={task.aircraft_id for task in rows},
            run__procedure_version__procedure__in={task.procedure_id for task in rows if task.procedure_id},
        )
        .order_by()
        .values("aircraft_id", "run__procedure_version__procedure_id")
        .annotate(newest=Max("pk"))
        .values_list("newest", flat=True)
    )
    found = SignedRecord.objects.filter(pk__in=list(newest)).select_related("run__procedure_version")
    return {
        (record.aircraft_id, record.run.procedure_version.procedure_id): record
        for record in found.defer("canonical", "run__content")
        if record.run is not None
    }


def _aircraft(actor: Actor) -> Iterable[AircraftPiece]:
    rows = list(aircraft_list(actor).prefetch_related("options"))
    places: dict[int, list[Position]] = {}
    for position in Position.objects.filter(
        aircraft_type__in={row.aircraft_type_id for row in rows}
    ).select_related("needs_option", "kind"):
        places.setdefault(position.aircraft_type_id, []).append(position)
    for row in rows:
        options = {option.pk: option.code for option in row.options.all()}
        positions = [
            {**{name: getattr(place, name) for name in OUTLET_FIELDS}, "kind": place.kind.code}
            for place in places.get(row.aircraft_type_id, [])
            if place.needs_option_id is None or place.needs_option_id in options
        ]
        yield AircraftPiece(row, tuple(sorted(options.values())), tuple(positions))


def _tools(actor: Actor, on: date) -> Iterable[ToolState]:
    rows = Equipment.objects.filter(operator_id=actor.operator_id).select_related("base")
    for row in rows.prefetch_related("calibrations").order_by("kind", "code"):
        if row.withdrawn_on is None or row.withdrawn_on > on:
            yield _tool(row, on)


def _tool(row: Equipment, on: date) -> ToolState:
    if not row.needs_calibration:
        return ToolState(row, True, "needs no calibration", None)
    calibrations = sorted(row.calibrations.all(), key=lambda each: (each.due_on, each.pk))
    holding = [each for each in calibrations if each.done_on <= on <= each.due_on]
    if holding:
        due = holding[-1].due_on
        return ToolState(row, True, f"calibrated until {in_words(due)}", due)
    if calibrations:
        due = calibrations[-1].due_on
        return ToolState(row, False, f"calibration lapsed on {in_words(due)}", due)
    return ToolState(row, False, "never calibrated", None)


def _lots(actor: Actor, on: date) -> Iterable[LotState]:
    rows = FluidLot.objects.filter(operator_id=actor.operator_id).exclude(state=FluidLot.State.USED_UP)
    for row in rows.select_related("base").prefetch_related("density_points").order_by("expires_on", "batch"):
        if row.state != FluidLot.State.APPROVED:
            yield LotState(row, False, str(row.get_state_display()))
        elif row.expires_on < on:
            yield LotState(row, False, f"expired on {in_words(row.expires_on)}")
        else:
            yield LotState(row, True, f"approved, good until {in_words(row.expires_on)}")


def _colleagues(actor: Actor) -> Iterable[User]:
    """Who else works here and may take a run over."""
    working = Membership.objects.filter(
        operator_id=actor.operator_id, role__in=[role.value for role in POLICY[Verb.PERFORM]]
    ).values("user_id")
    rows = User.objects.filter(pk__in=working, is_active=True).exclude(pk=actor.user_id or 0)
    return rows.order_by("last_name", "first_name", "pk")
