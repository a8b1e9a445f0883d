"""Fluid lots and equipment: what a test may be done with today, and where a bad lot went."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.paginator import Paginator
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.clock import local_day
from fleet.models import Equipment, FluidLot
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, FormScreen, Screen
from fleet.screens.stock_forms import CalibrationForm, EquipmentForm, LotForm, LotStateForm
from fleet.selectors.people import bases
from fleet.selectors.stock import equipment_for, equipment_list, fluid_lots, lot_for, uplifts_of
from fleet.selectors.tracing import trace_of
from fleet.services.stock import (
    NewCalibration,
    NewEquipment,
    NewLot,
    add_equipment,
    receive_lot,
    record_calibration,
    set_lot_state,
    withdraw_equipment,
)

SOON_DAYS = 30


def lot_standing(lot: FluidLot, today: date) -> tuple[str, str]:
    """A lot's state as level and words."""
    if lot.state == FluidLot.State.APPROVED and lot.expires_on < today:
        return "stop", "expired"
    levels = {"received": "unknown", "approved": "clear", "quarantined": "stop", "used_up": "unknown"}
    return levels[lot.state], lot.get_state_display()


def equipment_standing(row: Any, today: date) -> tuple[str, str]:
    """Equipment's state as level and words."""
    if row.withdrawn_on is not None:
        return "unknown", "withdrawn"
    if not row.needs_calibration:
        return "clear", "needs no calibration"
    if row.calibration_due is None:
        return "stop", "never calibrated"
    if row.calibration_due < today:
        return "stop", "calibration lapsed"
    soon = (row.calibration_due - today).days <= SOON_DAYS
    return ("soon", "calibration ends soon") if soon else ("clear", "in calibration")


class StockScreen(Screen):
    """Both lists on one page, each with its search."""

    template_name = "fleet/stock.html"

    def page(self) -> dict[str, Any]:
        """Lots and equipment of all bases or one."""
        asked = self.request.GET
        lots, tools = fluid_lots(self.actor), equipment_list(self.actor)
        base = plain_number(asked.get("base", ""))
        if base is not None:
            lots, tools = lots.filter(base_id=base), tools.filter(base_id=base)
        if asked.get("q"):
            lots, tools = lots.filter(batch__icontains=asked["q"]), tools.filter(name__icontains=asked["q"])
        tab = "equipment" if asked.get("view") == "equipment" else "fluid"
        shown: Any = tools if tab == "equipment" else lots
        page = Paginator(shown, 50).get_page(asked.get("page"))
        standing: Any = equipment_standing if tab == "equipment" else lot_standing
        return {
            "tab": tab,
            "tabs": [
                ("Fluid lots", "?view=fluid", lots.count()),
                ("Equipment", "?view=equipment", tools.count()),
            ],
            "tab_name": "Equipment" if tab == "equipment" else "Fluid lots",
            "page": page,
            "rows": [(row, *standing(row, local_day(row.base.zone))) for row in page],
            "bases": [(base.pk, base.name) for base in bases(self.actor)],
            "may_edit": self.actor.may(Verb.EDIT_STOCK),
            "is_filtered": bool(asked.get("q") or asked.get("base")),
        }


class LotScreen(FormScreen):
    """One lot: papers, densities, who took of it; its state is changed here."""

    template_name = "fleet/lot.html"
    form_class = LotStateForm
    done = "The lot's state is changed."

    def page(self, lot: int) -> dict[str, Any]:
        """The lot and everything that took of it."""
        row = lot_for(self.actor, lot)
        level, words = lot_standing(row, local_day(row.base.zone))
        return {
            "lot": row,
            "level": level,
            "words": words,
            "densities": row.density_points.all(),
            "uplifts": uplifts_of(self.actor, row)[:200],
            "trace": [one for one in trace_of(self.actor, row) if one.kind != "uplift"],
            "may_edit": self.actor.may(Verb.EDIT_STOCK),
            "may_fill": self.actor.may(Verb.RECORD_UPLIFT) and level == "clear",
            "facts": [
                ("Specification", row.specification),
                ("Supplier", row.supplier or "not named"),
                ("At", row.base.name),
                ("Quantity", f"{row.quantity_ml / 1000:f} L".replace(".000000 L", " L")),
                ("Reason of its state", row.state_reason or "none given"),
                ("Density from", row.density_source or "no table: volumes only"),
            ],
        }

    def get_initial(self) -> dict[str, Any]:
        """The present state."""
        return {"state": lot_for(self.actor, self.kwargs["lot"]).state}

    def act(self, data: dict[str, Any]) -> str:
        """Change the state."""
        set_lot_state(actor=self.actor, lot_id=self.kwargs["lot"], state=data["state"], reason=data["reason"])
        return reverse("fleet:lot", args=[self.kwargs["lot"]])


class ActorFormScreen(FormScreen):
    """A form that offers the operator's own bases."""

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the actor to the form."""
        return {**super().get_form_kwargs(), "actor": self.actor}


class NewLotScreen(ActorFormScreen):
    """Receive a delivery."""

    template_name = "fleet/stock_form.html"
    form_class = LotForm
    done = "The lot is received. Approve it when its papers are checked."
    verb = Verb.EDIT_STOCK

    def page(self) -> dict[str, Any]:
        """Words of the page."""
        return {"title": "Receive fluid", "submit": "Receive the lot"}

    def act(self, data: dict[str, Any]) -> str:
        """Receive it."""
        data["base_id"] = data.pop("base")
        return reverse("fleet:lot", args=[receive_lot(actor=self.actor, new=NewLot(**data)).pk])


class NewEquipmentScreen(ActorFormScreen):
    """Put equipment on the list."""

    template_name = "fleet/stock_form.html"
    form_class = EquipmentForm
    done = "The equipment is on the list."
    verb = Verb.EDIT_STOCK

    def page(self) -> dict[str, Any]:
        """Words of the page."""
        return {"title": "Add equipment", "submit": "Put it on the list"}

    def act(self, data: dict[str, Any]) -> str:
        """Add it."""
        data["base_id"] = data.pop("base")
        return reverse("fleet:equipment", args=[add_equipment(actor=self.actor, new=NewEquipment(**data)).pk])


class EquipmentScreen(FormScreen):
    """One piece of equipment with its calibrations; a new one is entered here."""

    template_name = "fleet/equipment.html"
    form_class = CalibrationForm
    done = "The calibration is entered."

    def page(self, equipment: int) -> dict[str, Any]:
        """The equipment and its certificates."""
        row = equipment_for(self.actor, equipment)
        level, words = equipment_standing(row, local_day(row.base.zone))
        return {
            "equipment": row,
            "level": level,
            "words": words,
            "calibrations": row.calibrations.order_by("-done_on", "-id"),
            "may_edit": self.actor.may(Verb.EDIT_STOCK) and row.withdrawn_on is None,
            "facts": _equipment_facts(row),
        }

    def act(self, data: dict[str, Any]) -> str:
        """Enter the calibration."""
        key = self.kwargs["equipment"]
        record_calibration(actor=self.actor, new=NewCalibration(equipment_id=key, **data))
        return reverse("fleet:equipment", args=[key])


def _equipment_facts(row: Equipment) -> list[tuple[str, str]]:
    return [
        ("Code", row.code),
        ("Kind", row.kind.replace("-", " ")),
        ("At", row.base.name),
        ("Serial number", row.serial_number or "not recorded"),
        ("Resolution", f"{row.resolution} {row.unit}".strip() or "not stated"),
        ("Uncertainty", f"± {row.uncertainty} {row.unit}" if row.uncertainty else "not stated"),
    ]


class WithdrawEquipmentScreen(CommandScreen):
    """Take equipment out of use."""

    done = "The equipment is withdrawn from use."

    def act(self, equipment: int) -> str:
        """Withdraw it."""
        withdraw_equipment(actor=self.actor, equipment_id=equipment)
        return reverse("fleet:equipment", args=[equipment])
