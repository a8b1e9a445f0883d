"""Reads about fluid lots and equipment, each with what makes it usable today."""

from __future__ import annotations

from datetime import date

from django.db.models import OuterRef, QuerySet, Subquery, Sum

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from fleet.models import Calibration, Equipment, FluidLot, Uplift


def fluid_lots(actor: Actor) -> QuerySet[FluidLot]:
    """The operator's lots, newest first, each with `filled_ml` that went into aircraft."""
    return (
        FluidLot.objects.filter(operator_id=actor.operator_id)
        .select_related("base")
        .annotate(filled_ml=Sum("uplifts__volume_ml"))
        .order_by("-received_on", "batch")
    )


def lot_for(actor: Actor, lot_id: int) -> FluidLot:
    """One lot; a stranger's is not found."""
    lot = fluid_lots(actor).filter(pk=lot_id).first()
    if lot is None:
        raise NotFound("lot_not_found", "There is no such fluid lot here.")
    return lot


def usable_lots(actor: Actor, day: date) -> QuerySet[FluidLot]:
    """Approved lots that have not expired on the day."""
    return fluid_lots(actor).filter(state=FluidLot.State.APPROVED, expires_on__gte=day)


def uplifts_of(actor: Actor, lot: FluidLot) -> QuerySet[Uplift]:
    """Every aircraft that took of this lot, newest first."""
    return (
        Uplift.objects.filter(lot=lot, aircraft__operator_id=actor.operator_id)
        .select_related("aircraft", "by")
        .order_by("-at", "-id")
    )


def equipment_list(actor: Actor) -> QuerySet[Equipment]:
    """The operator's equipment by kind and code, each with `calibration_due` and `last_certificate`."""
    newest = Calibration.objects.filter(equipment=OuterRef("pk")).order_by("-due_on", "-id")
    return (
        Equipment.objects.filter(operator_id=actor.operator_id)
        .select_related("base")
        .annotate(
            calibration_due=Subquery(newest.values("due_on")[:1]),
            last_certificate=Subquery(newest.values("certificate")[:1]),
        )
        .order_by("kind", "code")
    )


def equipment_for(actor: Actor, equipment_id: int) -> Equipment:
    """One piece of equipment; a stranger's is not found."""
    row = equipment_list(actor).filter(pk=equipment_id).first()
    if row is None:
        raise NotFound("equipment_not_found", "There is no such equipment here.")
    return row


def uplifts(actor: Actor) -> QuerySet[Uplift]:
    """Every uplift of the operator's aircraft, newest first."""
    return (
        Uplift.objects.filter(aircraft__operator_id=actor.operator_id)
        .select_related("aircraft", "lot", "by")
        .order_by("-at", "-id")
    )
