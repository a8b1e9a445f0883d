"""Trends: what every watched channel last said, and one trend with all its figures."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView
from fleet.common.clock import now
from fleet.common.pdf.render import render
from records.api.record_views import PDF, paper
from records.gather.trending import Channel, Trend
from records.reports.trend import trend_document
from records.selectors.trends import TrendQuery, lines_of, trend_for, trend_states
from scheduling.api.answers import MAKES_NO_SENSE, NOT_HERE, PAGING, asked, paged

ORDER = ("aircraft__registration", "procedure_code", "point", "channel", "id")


class TrendFilter(serializers.Serializer):
    """Which trends are wanted."""

    aircraft = serializers.CharField(required=False, default="")
    procedure = serializers.CharField(required=False, default="")
    alarms = serializers.BooleanField(required=False, default=False)


class TrendRow(serializers.Serializer):
    """What one channel last said."""

    aircraft = serializers.CharField(source="aircraft.registration")
    aircraft_type = serializers.CharField(source="aircraft.aircraft_type.code")
    procedure = serializers.CharField(source="procedure_code")
    point = serializers.CharField()
    channel = serializers.CharField()
    trend = serializers.CharField(source="state")
    words = serializers.CharField()
    alarmed_run = serializers.IntegerField(source="alarmed_run_id", allow_null=True)
    computed_at = serializers.DateTimeField()


class MarkShape(serializers.Serializer):
    """One reading; `written` is exact, `value` for drawing."""

    record = serializers.CharField()
    day = serializers.DateField()
    value = serializers.FloatField()
    written = serializers.CharField()
    percent = serializers.FloatField()
    verdict = serializers.CharField()
    run_verdict = serializers.CharField()
    is_charted = serializers.BooleanField()
    reason = serializers.CharField()


class LineShape(serializers.Serializer):
    """The readings of one point with the limits in force."""

    key = serializers.CharField()
    name = serializers.CharField()
    unit = serializers.CharField()
    side = serializers.CharField()
    allowed = serializers.CharField()
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    readings = MarkShape(many=True)


class RestartShape(serializers.Serializer):
    """After what a new baseline began."""

    day = serializers.DateField()
    what = serializers.CharField()


class ChannelShape(serializers.Serializer):
    """What is said of one channel; `verdict` holds every charted test with its limits."""

    name = serializers.CharField()
    trend = serializers.CharField(source="state")
    words = serializers.CharField()
    cross_check = serializers.CharField()
    alarmed_record = serializers.CharField()
    dismissed = serializers.ListField(child=serializers.CharField())
    verdict = serializers.SerializerMethodField()

    def get_verdict(self, channel: Channel) -> dict[str, Any] | None:
        return channel.verdict.to_dict() if channel.verdict else None


class TrendShape(serializers.Serializer):
    """One trend with everything a chart and its table need."""

    aircraft = serializers.CharField(source="aircraft.registration")
    procedure = serializers.CharField(source="procedure_code")
    point = serializers.CharField(source="watched.key")
    name = serializers.CharField(source="watched.name")
    words = serializers.ListField(child=serializers.CharField())
    channels = ChannelShape(many=True)
    lines = serializers.SerializerMethodField()
    restarts = RestartShape(many=True)
    crossings = serializers.SerializerMethodField()
    indication = serializers.SerializerMethodField()
    spread = serializers.SerializerMethodField()

    def get_lines(self, trend: Trend) -> list[dict[str, Any]]:
        return [dict(LineShape(line).data) for line in lines_of(trend)]

    def get_crossings(self, trend: Trend) -> list[dict[str, Any]]:
        return [{"point": name, **crossing.to_dict()} for name, crossing in trend.crossings]

    def get_indication(self, trend: Trend) -> dict[str, Any] | None:
        return trend.indication.to_dict() if trend.indication else None

    def get_spread(self, trend: Trend) -> dict[str, Any] | None:
        return trend.spread.to_dict() if trend.spread else None


class TrendListView(ApiView):
    """Trends of the operator."""

    @extend_schema(
        operation_id="trends_list",
        parameters=[
            asked("aircraft", "registration"),
            asked("procedure", "code of a procedure"),
            asked("alarms", "true: only channels in alarm"),
            *PAGING,
        ],
        responses={200: paged(TrendRow), 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """What every watched channel last said, by aircraft."""
        wanted = self.query(TrendFilter)
        query = TrendQuery(wanted["aircraft"], wanted["procedure"], wanted["alarms"])
        return self.page(trend_states(self.actor, query), TrendRow, ORDER)


class TrendView(ApiView):
    """One trend."""

    @extend_schema(operation_id="trends_read", responses={200: TrendShape, 404: NOT_HERE})
    def get(self, request: Request, registration: str, procedure: str, point: str) -> Response:
        """One trend, judged now, by any of its points."""
        return Response(TrendShape(trend_for(self.actor, registration, procedure, point)).data)


class TrendPaperView(ApiView):
    """One trend on paper."""

    @extend_schema(operation_id="trends_pdf", responses={(200, PDF): OpenApiTypes.BINARY, 404: NOT_HERE})
    def get(self, request: Request, registration: str, procedure: str, point: str) -> HttpResponse:
        """The trend as PDF."""
        trend = trend_for(self.actor, registration, procedure, point)
        issuer = trend.aircraft.operator.name
        document = trend_document(trend, procedure.replace("-", " ").capitalize(), issuer, now())
        return paper(render(document), f"{trend.aircraft.registration}-{procedure}-{trend.watched.key}")
