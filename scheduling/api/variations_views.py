"""Permitted variations: approved tables, and what was granted from them."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from scheduling.api.answers import FORBIDS, KEY, MAKES_NO_SENSE, NOT_HERE
from scheduling.api.due_shapes import ReasonSent, VariationShape
from scheduling.selectors.programme import variation_tables, variations
from scheduling.services.variations import Grant, grant_variation, withdraw_variation, write_table


class TableShape(serializers.Serializer):
    """An approved table of permitted variations."""

    id = serializers.IntegerField(read_only=True)
    name = serializers.CharField(max_length=80)
    source = serializers.CharField(max_length=200)  # type: ignore[assignment]
    approval = serializers.CharField(max_length=120, allow_blank=True)
    bands = serializers.ListField(child=serializers.DictField())


class GrantSent(serializers.Serializer):
    """What the director grants; without a path the limit that governs."""

    item = serializers.IntegerField()
    amount = serializers.JSONField(help_text='"10:00", 25, or {"months": 1}')
    reason = serializers.CharField(max_length=300)
    path = serializers.CharField(required=False, allow_blank=True, default="")
    reference = serializers.CharField(required=False, allow_blank=True, default="", max_length=160)


class TableListView(CommandView):
    """Tables of permitted variations."""

    @extend_schema(operation_id="variation_tables_list", responses={200: TableShape(many=True)})
    def get(self, request: Request) -> Response:
        """The operator's tables."""
        return Response(TableShape(variation_tables(self.actor), many=True).data)

    @extend_schema(
        operation_id="variation_tables_write",
        parameters=[KEY],
        request=TableShape,
        responses={201: TableShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Write a table with its source and approval."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        return Response(TableShape(write_table(actor=self.actor, data=self.parsed(TableShape))).data, 201)


class TableView(ApiView):
    """One table."""

    @extend_schema(
        operation_id="variation_tables_rewrite",
        request=TableShape,
        responses={200: TableShape, 404: NOT_HERE, 422: MAKES_NO_SENSE},
    )
    def put(self, request: Request, table_id: int) -> Response:
        """Write the table anew; what was granted from it stays as granted."""
        data = self.parsed(TableShape)
        return Response(TableShape(write_table(actor=self.actor, data=data, table_id=table_id)).data)


class VariationListView(CommandView):
    """Variations granted."""

    @extend_schema(operation_id="variations_list", responses={200: VariationShape(many=True)})
    def get(self, request: Request) -> Response:
        """Those not used up or withdrawn, newest first."""
        return Response(VariationShape(variations(self.actor), many=True).data)

    @extend_schema(
        operation_id="variations_grant",
        parameters=[KEY],
        request=GrantSent,
        responses={201: VariationShape, 404: NOT_HERE, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Grant a variation of one limit, once, with a reason; only the director may."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(GrantSent)
        grant = Grant(data["item"], data["amount"], data["reason"], data["path"], data["reference"])
        return Response(VariationShape(grant_variation(actor=self.actor, grant=grant)).data, 201)


class VariationWithdrawView(CommandView):
    """Take a variation back."""

    @extend_schema(
        operation_id="variations_withdraw",
        parameters=[KEY],
        request=ReasonSent,
        responses={200: VariationShape, 404: NOT_HERE, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, variation_id: int) -> Response:
        """Before it was used, with a reason."""
        return super().post(request, variation_id=variation_id)

    def command(self, request: Request, variation_id: int) -> Response:
        reason = self.parsed(ReasonSent)["reason"]
        row = withdraw_variation(actor=self.actor, variation_id=variation_id, reason=reason)
        return Response(VariationShape(row).data)
