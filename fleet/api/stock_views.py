"""Fluid lots, uplifts, equipment and calibrations."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api import stock_shapes as shapes
from fleet.api.answers import EDIT_REFUSALS, IF_MATCH, KEY, PAGING, REFUSALS, paged
from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag
from fleet.models import FluidLot
from fleet.selectors.aircraft import aircraft_for
from fleet.selectors.people import base_for
from fleet.selectors.stock import equipment_for, equipment_list, fluid_lots, lot_for, uplifts
from fleet.selectors.tracing import trace_of
from fleet.services.stock import (
    NewCalibration,
    NewEquipment,
    NewLot,
    NewUplift,
    add_equipment,
    change_equipment,
    receive_lot,
    record_calibration,
    record_uplift,
    set_lot_state,
    withdraw_equipment,
)


class LotDoor(CommandView):
    """What the doors of fluid lots share."""

    def answered(self, lot_id: int, status: int = 200) -> Response:
        """The lot with its entity tag."""
        lot = lot_for(self.actor, lot_id)
        headers = {
            "ETag": entity_tag("fluid-lot", lot.pk, lot.version),
            "Location": f"/api/v1/fluid-lots/{lot.pk}/",
        }
        return Response(shapes.FluidLotAnswer(lot).data, status=status, headers=headers)


class LotListView(LotDoor):
    """Fluid lots of the operator."""

    @extend_schema(
        operation_id="fluid_lots_list",
        parameters=[shapes.StockAsked, *PAGING],
        responses={200: paged(shapes.FluidLotAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Lots that fit, newest first."""
        wanted = self.query(shapes.StockAsked)
        rows = fluid_lots(self.actor).prefetch_related("density_points")
        if "base" in wanted:
            rows = rows.filter(base=base_for(self.actor, wanted["base"]))
        if "state" in wanted:
            rows = rows.filter(state=wanted["state"])
        return self.page(rows, shapes.FluidLotAnswer, ("-received_on", "-id"))

    @extend_schema(
        operation_id="fluid_lots_receive",
        parameters=[KEY],
        request=shapes.FluidLotSent,
        responses={201: shapes.FluidLotAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Take a delivery in; it is not approved yet."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Receive it once."""
        sent = self.parsed(shapes.FluidLotSent)
        rows = [(row["celsius"], row["grams_per_ml"]) for row in sent.pop("densities")]
        base = base_for(self.actor, sent.pop("base"))
        lot = receive_lot(actor=self.actor, new=NewLot(base_id=base.pk, densities=rows, **sent))
        return self.answered(lot.pk, 201)


class LotView(LotDoor):
    """One fluid lot."""

    http_method_names = ["get", "head", "options"]

    @extend_schema(operation_id="fluid_lots_get", responses={200: shapes.FluidLotAnswer, **REFUSALS})
    def get(self, request: Request, lot_id: int) -> Response:
        """The lot with its densities."""
        return self.answered(lot_id)


class LotStateView(LotDoor):
    """A change of a lot's state; each subclass one state."""

    state: ClassVar[str] = ""

    def command(self, request: Request, **url: Any) -> Response:
        """Change it once."""
        reason = self.parsed(shapes.LotReasonSent)["reason"]
        set_lot_state(actor=self.actor, lot_id=url["lot_id"], state=self.state, reason=reason)
        return self.answered(url["lot_id"])


def state_schema(name: str) -> Any:
    """The schema of one change of state."""
    return extend_schema(
        operation_id=f"fluid_lots_{name}",
        parameters=[KEY],
        request=shapes.LotReasonSent,
        responses={200: shapes.FluidLotAnswer, **REFUSALS},
    )


class LotApproveView(LotStateView):
    """Approval."""

    state = FluidLot.State.APPROVED

    @state_schema("approve")
    def post(self, request: Request, **url: Any) -> Response:
        """Approve a lot for use."""
        return super().post(request, **url)


class LotQuarantineView(LotStateView):
    """Quarantine."""

    state = FluidLot.State.QUARANTINED

    @state_schema("quarantine")
    def post(self, request: Request, **url: Any) -> Response:
        """Quarantine a lot, with a reason."""
        return super().post(request, **url)


class LotUsedUpView(LotStateView):
    """The end of a lot."""

    state = FluidLot.State.USED_UP

    @state_schema("use_up")
    def post(self, request: Request, **url: Any) -> Response:
        """Say that nothing of the lot is left."""
        return super().post(request, **url)


class LotTraceView(ApiView):
    """Where a lot went."""

    @extend_schema(
        operation_id="fluid_lots_trace", responses={200: shapes.LotTraceAnswer(many=True), **REFUSALS}
    )
    def get(self, request: Request, lot_id: int) -> Response:
        """Every aircraft and every run that took of the lot."""
        found = trace_of(self.actor, lot_for(self.actor, lot_id))
        return Response(shapes.LotTraceAnswer(found, many=True).data)


class UpliftListView(CommandView):
    """Uplifts."""

    @extend_schema(
        operation_id="uplifts_list",
        parameters=[shapes.UpliftsAsked, *PAGING],
        responses={200: paged(shapes.UpliftAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Uplifts that fit, newest first."""
        wanted, rows = self.query(shapes.UpliftsAsked), uplifts(self.actor)
        if "lot" in wanted:
            rows = rows.filter(lot=lot_for(self.actor, wanted["lot"]).pk)
        if "aircraft" in wanted:
            rows = rows.filter(aircraft=aircraft_for(self.actor, wanted["aircraft"]))
        return self.page(rows, shapes.UpliftAnswer, ("-at", "-id"))

    @extend_schema(
        operation_id="uplifts_record",
        parameters=[KEY],
        request=shapes.UpliftSent,
        responses={201: shapes.UpliftAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Record fluid that went into an aircraft."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Record it once."""
        sent = self.parsed(shapes.UpliftSent)
        aircraft = aircraft_for(self.actor, sent.pop("aircraft"))
        new = NewUplift(lot_id=sent.pop("lot"), aircraft_id=aircraft.pk, **sent)
        return Response(shapes.UpliftAnswer(record_uplift(actor=self.actor, new=new)).data, status=201)


class EquipmentDoor(CommandView):
    """What the doors of equipment share."""

    def answered(self, equipment_id: int, status: int = 200) -> Response:
        """The equipment with its entity tag."""
        row = equipment_for(self.actor, equipment_id)
        headers = {"ETag": equipment_tag(row), "Location": f"/api/v1/equipment/{row.pk}/"}
        return Response(shapes.EquipmentAnswer(row).data, status=status, headers=headers)

    def entry(self) -> NewEquipment:
        """Equipment as sent."""
        sent = self.parsed(shapes.EquipmentSent)
        return NewEquipment(base_id=base_for(self.actor, sent.pop("base")).pk, **sent)


def equipment_tag(row: Any) -> str:
    """The entity tag of equipment."""
    return entity_tag("equipment", row.pk, row.version)


class EquipmentListView(EquipmentDoor):
    """Equipment of the operator."""

    @extend_schema(
        operation_id="equipment_list",
        parameters=[shapes.StockAsked, *PAGING],
        responses={200: paged(shapes.EquipmentAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Equipment that fits, by code, each with until when its calibration holds."""
        wanted, rows = self.query(shapes.StockAsked), equipment_list(self.actor)
        if "base" in wanted:
            rows = rows.filter(base=base_for(self.actor, wanted["base"]))
        if "kind" in wanted:
            rows = rows.filter(kind=wanted["kind"])
        return self.page(rows, shapes.EquipmentAnswer, ("code", "id"))

    @extend_schema(
        operation_id="equipment_add",
        parameters=[KEY],
        request=shapes.EquipmentSent,
        responses={201: shapes.EquipmentAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Put equipment on the list."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Put it there once."""
        return self.answered(add_equipment(actor=self.actor, new=self.entry()).pk, 201)


class EquipmentView(EquipmentDoor):
    """One piece of equipment."""

    http_method_names = ["get", "put", "head", "options"]

    @extend_schema(operation_id="equipment_get", responses={200: shapes.EquipmentAnswer, **REFUSALS})
    def get(self, request: Request, equipment_id: int) -> Response:
        """The equipment with its entity tag."""
        return self.answered(equipment_id)

    @extend_schema(
        operation_id="equipment_change",
        parameters=[IF_MATCH],
        request=shapes.EquipmentSent,
        responses={200: shapes.EquipmentAnswer, **EDIT_REFUSALS},
    )
    def put(self, request: Request, equipment_id: int) -> Response:
        """Change what the list says; the code stays."""
        row = equipment_for(self.actor, equipment_id)
        self.must_match(equipment_tag(row))
        change_equipment(actor=self.actor, equipment_id=equipment_id, new=self.entry(), version=row.version)
        return self.answered(equipment_id)


class CalibrationListView(CommandView):
    """Calibrations of equipment."""

    @extend_schema(
        operation_id="equipment_calibrations",
        parameters=PAGING,
        responses={200: paged(shapes.CalibrationAnswer), **REFUSALS},
    )
    def get(self, request: Request, equipment_id: int) -> Response:
        """Calibrations, newest first."""
        rows = equipment_for(self.actor, equipment_id).calibrations.all()
        return self.page(rows, shapes.CalibrationAnswer, ("-done_on", "-id"))

    @extend_schema(
        operation_id="equipment_calibrate",
        parameters=[KEY],
        request=shapes.CalibrationSent,
        responses={201: shapes.CalibrationAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Enter a calibration."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Enter it once."""
        new = NewCalibration(**url, **self.parsed(shapes.CalibrationSent))
        row = record_calibration(actor=self.actor, new=new)
        return Response(shapes.CalibrationAnswer(row).data, status=201)


class EquipmentWithdrawView(EquipmentDoor):
    """The end of equipment."""

    @extend_schema(
        operation_id="equipment_withdraw",
        parameters=[KEY],
        request=None,
        responses={200: shapes.EquipmentAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Take equipment out of use."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Withdraw it once."""
        withdraw_equipment(actor=self.actor, **url)
        return self.answered(url["equipment_id"])
