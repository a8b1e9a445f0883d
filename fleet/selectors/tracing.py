"""Where a fluid lot went: every aircraft that took of it, and everything else that quotes it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Model

from fleet.common.actor import Actor
from fleet.models import Aircraft, DensityPoint, FluidLot, Uplift
from fleet.selectors.stock import uplifts_of


@dataclass(frozen=True, slots=True)
class LotTrace:
    """One row that quotes the lot: what kind of row, of which thing (a run, say), on which aircraft."""

    kind: str
    reference: int
    registration: str
    words: str
    at: datetime | None = None


def trace_of(actor: Actor, lot: FluidLot) -> list[LotTrace]:
    """Every uplift, newest first, then every row of any table above that points at the lot, with its aircraft.

    The rooms above are not known here, but what points at a lot is: a new table that quotes lots is traced, too.
    """
    found = [
        LotTrace("uplift", row.pk, row.aircraft.registration, str(row), row.at)
        for row in uplifts_of(actor, lot)
    ]
    for relation in FluidLot._meta.related_objects:
        model = relation.related_model
        if isinstance(model, str) or model in (DensityPoint, Uplift):
            continue
        through, path = _path_to_aircraft(model)
        rows = model._default_manager.filter(**{relation.field.name: lot}).order_by("-pk")
        for row in rows.select_related(path) if path else rows:
            owner = getattr(row, through) if through else row
            aircraft = getattr(owner, "aircraft", None)
            kind = str(owner._meta.verbose_name)
            found.append(LotTrace(kind, owner.pk, aircraft.registration if aircraft else "", str(row)))
    return found


def _path_to_aircraft(model: type[Model]) -> tuple[str, str]:
    """The field that owns a row and the path to its aircraft: `("run", "run__aircraft")`, or empty."""
    for field in model._meta.concrete_fields:
        owner = field.related_model
        if owner is Aircraft:
            return "", field.name
        if isinstance(owner, type) and any(one.name == "aircraft" for one in owner._meta.concrete_fields):
            return field.name, f"{field.name}__aircraft"
    return "", ""
