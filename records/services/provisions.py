"""What a run was done with: calibrated equipment, approved fluid, photographs; and who has it in hand."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial

from django.core.files.base import ContentFile
from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, NotFound, wrong
from fleet.common.wording import day as day_words
from fleet.models import Calibration, Equipment, FluidLot
from fleet.quantities import parse_quantity
from fleet.selectors.aircraft import options_of
from fleet.selectors.people import person_for
from fleet.services.trail import note
from records.gather.judging import content_of
from records.models import BenchRun, EquipmentUse, HandOver, LotUse, Photo, RunState
from records.services.run_access import lock_run, must_be_open, person_of, run_day, save_run
from scheduling.steps.terms import EquipmentNeed

_wrong = partial(wrong, code="bad_provision")

PHOTO_LIMIT = 8 * 1024 * 1024
PHOTO_TYPES = {b"\xff\xd8\xff": ("image/jpeg", "jpg"), b"\x89PNG\r\n\x1a\n": ("image/png", "png")}


@dataclass(frozen=True, slots=True)
class NewPhoto:
    """A picture taken at a step."""

    step: str
    key: str
    content: bytes
    taken_at: datetime


@transaction.atomic
def use_equipment(*, actor: Actor, run_id: int, role: str, equipment_id: int) -> EquipmentUse:
    """Name the equipment of a role. Refuses the wrong kind, withdrawn, or out of calibration on the day of the run.

    Choosing again before the end replaces the choice.
    """
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    must_be_open(run, actor)
    need = _need(run, role)
    equipment = Equipment.objects.filter(pk=equipment_id, operator_id=actor.operator_id).first()
    if equipment is None:
        raise NotFound("equipment_not_found", "There is no such equipment here.")
    day = run_day(run)
    calibration = usable_calibration(equipment, need, day)
    use, _ = EquipmentUse.objects.update_or_create(
        run=run,
        role=role,
        defaults={
            "equipment": equipment,
            "certificate": calibration.certificate if calibration else "",
            "calibration_due": calibration.due_on if calibration else None,
        },
    )
    save_run(run)
    note(actor, "use_equipment", "run", run.pk, f"{need.name}: {equipment}")
    return use


def _need(run: BenchRun, role: str) -> EquipmentNeed:
    needs = content_of(run).equipment_for(options_of(run.aircraft))
    need = next((each for each in needs if each.role == role), None)
    if need is None:
        raise _wrong("role", role, "is asked for nowhere in this procedure", "choose one of the roles listed")
    return need


def usable_calibration(equipment: Equipment, need: EquipmentNeed, day: date) -> Calibration | None:
    """The calibration that holds on the day. Refuses equipment that may not be used (14 CFR 135.427(b)(5))."""
    if equipment.kind != need.kind:
        raise _wrong(
            "equipment", str(equipment), f"is no {need.kind.replace('-', ' ')}", "choose one of that kind"
        )
    if equipment.withdrawn_on is not None and equipment.withdrawn_on <= day:
        raise _wrong("equipment", str(equipment), "is withdrawn from use", "choose another")
    if not equipment.needs_calibration:
        return None
    holds = (
        equipment.calibrations.filter(done_on__lte=day, due_on__gte=day).order_by("-due_on", "-id").first()
    )
    if holds is None:
        last = equipment.calibrations.order_by("-due_on").first()
        lapsed = f"its calibration lapsed on {day_words(last.due_on)}" if last else "it was never calibrated"
        raise _wrong("equipment", str(equipment), lapsed, "use calibrated equipment")
    return holds


@transaction.atomic
def use_lot(*, actor: Actor, run_id: int, lot_id: int, amount: str, unit: str) -> LotUse:
    """Name the fluid lot. Refuses one not approved, expired on the day, or an amount below the minimum needed."""
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    must_be_open(run, actor)
    lot = FluidLot.objects.filter(pk=lot_id, operator_id=actor.operator_id).first()
    if lot is None:
        raise NotFound("lot_not_found", "There is no such fluid lot here.")
    if lot.state != FluidLot.State.APPROVED:
        raise _wrong("lot", lot.batch, f"is {lot.get_state_display()}", "use an approved lot")
    if lot.expires_on < run_day(run):
        raise _wrong(
            "lot", lot.batch, f"expired on {day_words(lot.expires_on)}", "use a lot that has not expired"
        )
    quantity = parse_quantity(amount, unit, field="amount")
    fluid = content_of(run).fluid
    if fluid is not None and quantity.in_unit(fluid.unit) < fluid.minimum:
        least = f"{fluid.minimum} {fluid.unit}"
        raise _wrong("amount", f"{amount} {unit}", f"is below the {least} this work needs", "fill up first")
    _keep_lot_of_weighing(run, lot)
    run.lot_uses.exclude(lot=lot).delete()
    use, _ = LotUse.objects.update_or_create(
        run=run, lot=lot, defaults={"amount": amount, "unit": quantity.unit}
    )
    save_run(run)
    note(actor, "use_lot", "run", run.pk, f"Fluid {lot}: {amount} {quantity.unit}")
    return use


def _keep_lot_of_weighing(run: BenchRun, lot: FluidLot) -> None:
    """What was weighed was turned into a volume with the lot's own density."""
    other = run.lot_uses.exclude(lot=lot).exists()
    if other and run.measurements.filter(detail__method="weighed").exists():
        raise Conflict("lot_in_use", "A reading was weighed with the density of the lot named before it.")


@transaction.atomic
def add_photo(*, actor: Actor, run_id: int, new: NewPhoto) -> tuple[Photo, bool]:
    """Keep a photograph (JPEG or PNG, at most 8 MiB); the flag says this key was kept before."""
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    known = run.photos.filter(key=new.key).first()
    if known is not None:
        return known, True
    must_be_open(run, actor)
    if not new.key.strip():
        raise _wrong("key", "", "is missing", "send a key of your own that makes repeating harmless")
    if content_of(run).step(new.step) is None:
        raise _wrong("step", new.step, "is no step of this procedure", "take it at one of its steps")
    media_type, ending = _photo_type(new.content)
    digest = hashlib.sha256(new.content).hexdigest()
    photo = Photo.objects.create(
        run=run,
        step=new.step,
        key=new.key,
        file=ContentFile(new.content, name=f"run-{run.pk}-{digest[:16]}.{ending}"),
        sha256=digest,
        media_type=media_type,
        taken_at=new.taken_at,
        by_id=person_of(actor),
    )
    note(actor, "add_photo", "run", run.pk, f"Photo at {new.step}")
    return photo, False


def _photo_type(content: bytes) -> tuple[str, str]:
    if len(content) > PHOTO_LIMIT:
        raise _wrong(
            "photo", f"{len(content)} bytes", "is larger than 8 MiB", "take it at a lower resolution"
        )
    for start, (media_type, ending) in PHOTO_TYPES.items():
        if content.startswith(start):
            return media_type, ending
    raise _wrong("photo", "", "is neither JPEG nor PNG", "send a JPEG or PNG picture")


@transaction.atomic
def hand_over(*, actor: Actor, run_id: int, to_user_id: int, note_words: str) -> BenchRun:
    """Pass a run on to a colleague, with a word on where it stands. Refuses oneself and an empty word."""
    require(actor, Verb.PERFORM)
    run = lock_run(actor, run_id)
    colleague = person_for(actor, to_user_id)
    if run.state not in (RunState.OPEN, RunState.PAUSED):
        raise Conflict("run_not_open", f"This run is {run.get_state_display()}: it cannot be handed over.")
    if colleague.pk == run.performer_id:
        raise _wrong("to", colleague.full_name, "has this run already", "choose somebody else")
    if not note_words.strip():
        raise _wrong("note", "", "is missing", "say where the work stands")
    if not colleague.memberships.filter(
        operator_id=actor.operator_id, role__in=["technician", "inspector"]
    ).exists():
        raise _wrong("to", colleague.full_name, "does no maintenance work here", "choose a technician")
    HandOver.objects.create(
        run=run, from_user=run.performer, to_user=colleague, note=note_words.strip()[:300], at=now()
    )
    run.performer = colleague
    save_run(run)
    note(
        actor,
        "hand_over",
        "run",
        run.pk,
        f"{run.task.title}: handed over to {colleague.full_name}, {note_words}",
    )
    return run
