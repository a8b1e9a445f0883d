"""Approved relief with its clocks, repair categories, and flying plans."""

from __future__ import annotations

from datetime import time

from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.selectors.aircraft import aircraft_for
from scheduling.api.answers import FORBIDS, KEY, MAKES_NO_SENSE, NOT_HERE
from scheduling.api.due_shapes import ReasonSent
from scheduling.models import Consequence
from scheduling.selectors.programme import flying_plans, relief_categories, relief_for, reliefs
from scheduling.services.flying_plans import NewPlan, enter_plan, remove_plan
from scheduling.services.relief import NewRelief, close_relief, grant_relief, write_category


class ReliefShape(serializers.Serializer):
    """One relief and how its clock stands."""

    id = serializers.IntegerField(source="relief.pk")
    aircraft = serializers.CharField(source="relief.aircraft.registration")
    category = serializers.CharField(source="relief.category.code")
    item = serializers.CharField(source="relief.item")
    reference = serializers.CharField(source="relief.reference")
    restriction = serializers.CharField(source="relief.restriction")
    covers = serializers.CharField(source="relief.covers")
    recorded_at = serializers.DateTimeField(source="relief.recorded_at")
    amount = serializers.IntegerField(source="relief.amount")
    unit = serializers.CharField(source="relief.unit")
    ends_at = serializers.DateTimeField(source="relief.ends_at", allow_null=True)
    closed_at = serializers.DateTimeField(source="relief.closed_at", allow_null=True)
    granted_by = serializers.CharField(source="relief.granted_by.full_name")
    left = serializers.IntegerField(source="state.left", default=None, allow_null=True)
    words = serializers.CharField(source="state.words", default="")


class ReliefSent(serializers.Serializer):
    """Relief as granted; amount and unit only where the category leaves them to the remarks of the item."""

    aircraft = serializers.CharField()
    category = serializers.CharField(max_length=4)
    item = serializers.CharField(max_length=80)
    reference = serializers.CharField(max_length=120)
    recorded_at = serializers.DateTimeField()
    restriction = serializers.CharField(
        required=False, max_length=200, default="no flight into known or forecast icing"
    )
    covers = serializers.CharField(
        required=False, default="icing", help_text=f"one of {', '.join(Consequence.values)}"
    )
    amount = serializers.IntegerField(required=False, allow_null=True, default=None)
    unit = serializers.CharField(required=False, default="days")


class CategoryShape(serializers.Serializer):
    """A repair category; no days where the remarks of each item state them."""

    code = serializers.CharField(max_length=4)
    days = serializers.IntegerField(allow_null=True, required=False, default=None)
    source = serializers.CharField(max_length=160)  # type: ignore[assignment]
    starts_at = serializers.TimeField(required=False, default=time(0))


class PlanShape(serializers.Serializer):
    """A stretch of days with what is planned to be flown on each."""

    id = serializers.IntegerField(read_only=True)
    aircraft = serializers.CharField(source="aircraft.registration")
    from_day = serializers.DateField()
    to_day = serializers.DateField()
    minutes_per_day = serializers.IntegerField()
    landings_per_day = serializers.DecimalField(max_digits=6, decimal_places=2)
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=120)


class ReliefListView(CommandView):
    """Approved relief."""

    @extend_schema(operation_id="reliefs_list", responses={200: ReliefShape(many=True)})
    def get(self, request: Request) -> Response:
        """Open relief with its running clocks, soonest end first."""
        return Response(ReliefShape(reliefs(self.actor), many=True).data)

    @extend_schema(
        operation_id="reliefs_grant",
        parameters=[KEY],
        request=ReliefSent,
        responses={201: ReliefShape, 404: NOT_HERE, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Record approved relief; its clock runs from the record."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(ReliefSent)
        aircraft = aircraft_for(self.actor, data.pop("aircraft"))
        relief = grant_relief(actor=self.actor, grant=NewRelief(aircraft_id=aircraft.pk, **data))
        return Response(ReliefShape(relief_for(self.actor, relief.pk)).data, 201)


class ReliefCloseView(CommandView):
    """Close a relief."""

    @extend_schema(
        operation_id="reliefs_close",
        parameters=[KEY],
        request=ReasonSent,
        responses={200: ReliefShape, 404: NOT_HERE, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, relief_id: int) -> Response:
        """The item was mended, or relief is no longer claimed."""
        return super().post(request, relief_id=relief_id)

    def command(self, request: Request, relief_id: int) -> Response:
        close_relief(actor=self.actor, relief_id=relief_id, reason=self.parsed(ReasonSent)["reason"])
        return Response(ReliefShape(relief_for(self.actor, relief_id)).data)


class CategoryListView(CommandView):
    """Repair categories of the approved list."""

    @extend_schema(operation_id="relief_categories_list", responses={200: CategoryShape(many=True)})
    def get(self, request: Request) -> Response:
        """Every category with its source."""
        return Response(CategoryShape(relief_categories(self.actor), many=True).data)

    @extend_schema(
        operation_id="relief_categories_write",
        parameters=[KEY],
        request=CategoryShape,
        responses={201: CategoryShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Write a category; the same code again replaces it, relief already granted stays as granted."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        row = write_category(actor=self.actor, **self.parsed(CategoryShape))
        return Response(CategoryShape(row).data, 201)


class PlanListView(CommandView):
    """Flying plans."""

    @extend_schema(operation_id="flying_plans_list", responses={200: PlanShape(many=True)})
    def get(self, request: Request) -> Response:
        """Every stretch entered, by its first day."""
        return Response(PlanShape(flying_plans(self.actor), many=True).data)

    @extend_schema(
        operation_id="flying_plans_enter",
        parameters=[KEY],
        request=PlanShape,
        responses={201: PlanShape, 404: NOT_HERE, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Enter a stretch; on its days the plan stands in place of the measured rate."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(PlanShape)
        aircraft = aircraft_for(self.actor, data.pop("aircraft")["registration"])
        row = enter_plan(actor=self.actor, plan=NewPlan(aircraft_id=aircraft.pk, **data))
        return Response(PlanShape(row).data, 201)


class PlanView(ApiView):
    """One stretch of a flying plan."""

    @extend_schema(
        operation_id="flying_plans_remove",
        responses={204: OpenApiResponse(description="It is removed."), 404: NOT_HERE},
    )
    def delete(self, request: Request, plan_id: int) -> Response:
        """Take it out again."""
        remove_plan(actor=self.actor, plan_id=plan_id)
        return Response(status=204)
