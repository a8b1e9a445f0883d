"""The phone's doors: fetch the day's work in one piece, send what was entered without reception."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView
from records.api.bundle_shapes import BundleShape, OutboxShape, SyncedShape
from records.selectors.bundle import work_bundle
from records.services.sync import Outbox, sync
from scheduling.api.answers import MAKES_NO_SENSE


class WorkBundleView(ApiView):
    """The day's work."""

    @extend_schema(operation_id="work_bundle", responses={200: BundleShape})
    def get(self, request: Request) -> Response:
        """My open tasks and those nobody has at my base, with texts, tools, lots, maps and people."""
        return Response(BundleShape(work_bundle(self.actor)).data)


class SyncView(ApiView):
    """The outbox."""

    @extend_schema(
        operation_id="sync", request=OutboxShape, responses={200: SyncedShape, 422: MAKES_NO_SENSE}
    )
    def post(self, request: Request) -> Response:
        """Carry offline commands out, each with its own answer; sending them again changes nothing."""
        outbox = Outbox(**self.parsed(OutboxShape))
        return Response(SyncedShape(sync(actor=self.actor, outbox=outbox)).data)
