"""Tables of the fleet room; the only place that re-exports."""

from fleet.models.aircraft import (
    Aircraft,
    AircraftType,
    Component,
    ComponentKind,
    EquipmentOption,
    Installation,
    LifeLimit,
    Overhaul,
    Position,
)
from fleet.models.meters import FlightDay, FlightEntry, FlightUpload, ImportBatch, Meter, Reading
from fleet.models.people import (
    ApiToken,
    Authorisation,
    Base,
    Certificate,
    Membership,
    Operator,
    Passkey,
    User,
)
from fleet.models.stock import Calibration, DensityPoint, Equipment, FluidLot, Uplift
from fleet.models.trail import Receipt, TrailEntry

__all__ = [
    "Aircraft",
    "AircraftType",
    "ApiToken",
    "Authorisation",
    "Base",
    "Calibration",
    "Certificate",
    "Component",
    "ComponentKind",
    "DensityPoint",
    "Equipment",
    "EquipmentOption",
    "FlightDay",
    "FlightEntry",
    "FlightUpload",
    "FluidLot",
    "ImportBatch",
    "Installation",
    "LifeLimit",
    "Membership",
    "Meter",
    "Operator",
    "Overhaul",
    "Passkey",
    "Position",
    "Reading",
    "Receipt",
    "TrailEntry",
    "Uplift",
    "User",
]
