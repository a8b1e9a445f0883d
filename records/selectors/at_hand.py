"""What must be at hand for a procedure: equipment with the state of its calibration, and fluid lots."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fleet.common.actor import Actor
from fleet.common.wording import day, quantity
from fleet.models import Aircraft, Calibration, Equipment, FluidLot
from fleet.selectors.aircraft import options_of
from scheduling.steps.terms import EquipmentNeed, FluidNeed, ProcedureContent


@dataclass(frozen=True, slots=True)
class Tool:
    """A piece of equipment that could fill a role: whether it may be used on the day, and why (not)."""

    equipment: Equipment
    is_usable: bool
    words: str
    is_here: bool
    until: date | None = None

    @property
    def short(self) -> str:
        """The state of its calibration where room is scarce."""
        return f"to {day(self.until)}" if self.until else self.words


@dataclass(frozen=True, slots=True)
class RoleNeed:
    """One role of the procedure with everything of its kind, usable and near first."""

    need: EquipmentNeed
    tools: tuple[Tool, ...]

    @property
    def usable(self) -> tuple[Tool, ...]:
        """What may be used on the day."""
        return tuple(tool for tool in self.tools if tool.is_usable)


@dataclass(frozen=True, slots=True)
class Lot:
    """A fluid lot that could be used: whether it may be, and why (not)."""

    lot: FluidLot
    is_usable: bool
    words: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class AtHand:
    """Everything a procedure asks to have at hand on this aircraft."""

    roles: tuple[RoleNeed, ...]
    fluid: FluidNeed | None
    lots: tuple[Lot, ...]

    @property
    def usable_lots(self) -> tuple[Lot, ...]:
        """Lots that may be used on the day."""
        return tuple(lot for lot in self.lots if lot.is_usable)


def at_hand(actor: Actor, aircraft: Aircraft, content: ProcedureContent, on: date) -> AtHand:
    """What this aircraft's procedure needs, from the operator's own equipment and lots, on a day."""
    needs = content.equipment_for(options_of(aircraft))
    tools = _tools(actor, {need.kind for need in needs}, aircraft.base_id, on)
    roles = tuple(RoleNeed(need, tuple(t for t in tools if t.equipment.kind == need.kind)) for need in needs)
    lots = _lots(actor, aircraft.base_id, on) if content.fluid is not None else ()
    return AtHand(roles, content.fluid, lots)


def _tools(actor: Actor, kinds: Iterable[str], base_id: int, on: date) -> list[Tool]:
    rows = (
        Equipment.objects.filter(operator_id=actor.operator_id, kind__in=list(kinds))
        .select_related("base")
        .prefetch_related("calibrations")
    )
    tools = [_tool(row, base_id, on) for row in rows if row.withdrawn_on is None or row.withdrawn_on > on]
    return sorted(tools, key=lambda tool: (not tool.is_usable, not tool.is_here, tool.equipment.code))


def _tool(row: Equipment, base_id: int, on: date) -> Tool:
    is_here = row.base_id == base_id
    if not row.needs_calibration:
        return Tool(row, True, "needs no calibration", is_here)
    calibrations = sorted(row.calibrations.all(), key=lambda each: (each.due_on, each.pk))
    holds = [each for each in calibrations if each.done_on <= on <= each.due_on]
    if holds:
        return Tool(row, True, _calibrated(holds[-1], on), is_here, holds[-1].due_on)
    if calibrations:
        return Tool(row, False, f"calibration lapsed on {day(calibrations[-1].due_on)}", is_here)
    return Tool(row, False, "never calibrated", is_here)


def _calibrated(calibration: Calibration, on: date) -> str:
    left = (calibration.due_on - on).days
    tail = f", {left} days left" if 1 < left <= 30 else ""
    return f"calibrated until {day(calibration.due_on)}{tail}"


def _lots(actor: Actor, base_id: int, on: date) -> tuple[Lot, ...]:
    rows = FluidLot.objects.filter(operator_id=actor.operator_id).exclude(state=FluidLot.State.USED_UP)
    lots = [_lot(row, base_id, on) for row in rows.select_related("base").prefetch_related("density_points")]
    return tuple(sorted(lots, key=lambda lot: (not lot.is_usable, not lot.is_here, lot.lot.expires_on)))


def _lot(row: FluidLot, base_id: int, on: date) -> Lot:
    is_here = row.base_id == base_id
    if row.state != FluidLot.State.APPROVED:
        return Lot(row, False, str(row.get_state_display()), is_here)
    if row.expires_on < on:
        return Lot(row, False, f"expired on {day(row.expires_on)}", is_here)
    rows = list(row.density_points.all())
    density = "no density table: measure volumes"
    if rows:
        low, high = (quantity(f"{row.celsius.normalize():f}", "°C") for row in (rows[0], rows[-1]))
        density = f"density known from {low} to {high}"
    return Lot(row, True, f"approved, good until {day(row.expires_on)}; {density}", is_here)
