"""The register: bases, types with their positions and options, aircraft."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.models import Aircraft, AircraftType, Base, Meter
from fleet.selectors.meters import KINDS

NOT_RECORDED = "not recorded"


@transaction.atomic
def new_aircraft_in_bulk(
    *, actor: Actor, aircraft_type: AircraftType, base: Base, names: Sequence[str]
) -> dict[str, int]:
    """Put many registrations on the register at once, each with its three meters at zero; their keys by name."""
    require(actor, Verb.EDIT_FLEET)
    made = Aircraft.objects.bulk_create(
        Aircraft(
            operator_id=actor.operator_id,
            aircraft_type=aircraft_type,
            base=base,
            registration=name,
            serial_number=NOT_RECORDED,
        )
        for name in names
    )
    Meter.objects.bulk_create(Meter(aircraft=aircraft, kind=kind) for aircraft in made for kind in KINDS)
    return {aircraft.registration: aircraft.pk for aircraft in made}
