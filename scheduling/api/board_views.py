"""The fleet board, what stands in the way of each aircraft, and the operating status of one."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView
from fleet.selectors.aircraft import aircraft_for
from scheduling.api.answers import NOT_HERE, asked
from scheduling.api.tasks_shapes import PersonShape
from scheduling.selectors.board import Board, BoardQuery, board, owed
from scheduling.selectors.status import status_of


class StatusReasonShape(serializers.Serializer):
    """One reason for a status, and the task, relief or due item it points to."""

    code = serializers.CharField()
    state = serializers.CharField()
    words = serializers.CharField()
    task = serializers.IntegerField(source="task_id", allow_null=True)
    relief = serializers.IntegerField(source="relief_id", allow_null=True)
    due = serializers.IntegerField(source="due_id", allow_null=True)
    ends_at = serializers.DateTimeField(allow_null=True)


class StatusShape(serializers.Serializer):
    """The operating status: state, words, every reason worst first, and when it worsens by itself."""

    state = serializers.CharField(help_text="free_to_fly, restricted_icing or not_releasable")
    words = serializers.CharField(source="headline")
    reasons = StatusReasonShape(many=True)
    worsens_at = serializers.DateTimeField(allow_null=True)


class NextDueShape(serializers.Serializer):
    """The most urgent line of the programme; a projected day never stands without its interval."""

    title = serializers.CharField()
    state = serializers.CharField(help_text="overdue, due, due_soon, unknown or ok")
    day = serializers.DateField(source="outlook.day", allow_null=True)
    earliest_day = serializers.DateField(source="outlook.earliest", allow_null=True)
    latest_day = serializers.DateField(source="outlook.latest", allow_null=True)
    projection = serializers.CharField(source="words")


class BoardRowShape(serializers.Serializer):
    """One aircraft on the board."""

    registration = serializers.CharField(source="aircraft.registration")
    type = serializers.CharField(source="aircraft.aircraft_type.code")
    base = serializers.CharField(source="aircraft.base.code")
    status = StatusShape()
    minutes = serializers.IntegerField(source="counters.minutes")
    landings = serializers.IntegerField(source="counters.landings")
    cycles = serializers.IntegerField(source="counters.cycles")
    next_due = NextDueShape(allow_null=True)
    open_tasks = serializers.IntegerField()


class BoardShape(serializers.Serializer):
    """The fleet; counts by state are of everything that fits but the status asked for."""

    total = serializers.IntegerField()
    counts = serializers.SerializerMethodField()
    aircraft = BoardRowShape(many=True, source="rows")

    def get_counts(self, seen: Board) -> dict[str, int]:
        return {state.value: number for state, number in seen.counts.items()}


class OwedShape(serializers.Serializer):
    """One thing that stands in the way of an aircraft, what it stops and who owns it."""

    aircraft = serializers.CharField(source="aircraft.registration")
    reason = StatusReasonShape()
    stops = serializers.CharField()
    owner = PersonShape(allow_null=True)


class BoardFilter(serializers.Serializer):
    """How the fleet is asked for."""

    search = serializers.CharField(required=False, default="", allow_blank=True)
    base = serializers.CharField(required=False, default="", allow_blank=True)
    type = serializers.CharField(required=False, default="", allow_blank=True)
    status = serializers.CharField(required=False, default="", allow_blank=True)
    sort = serializers.CharField(required=False, default="", allow_blank=True)


FILTERS = [
    asked("search", "words in registration, serial number, type or base"),
    asked("base", "code of a base"),
    asked("type", "code of a type"),
    asked("status", "free_to_fly, restricted_icing or not_releasable"),
    asked("sort", "aircraft, base, hours, tasks, due or status; a minus turns it round"),
]


class BoardView(ApiView):
    """The fleet board."""

    @extend_schema(operation_id="board_read", parameters=FILTERS, responses={200: BoardShape})
    def get(self, request: Request) -> Response:
        """Every aircraft with its status, reasons, next due and open tasks."""
        return Response(BoardShape(board(self.actor, BoardQuery(**self.query(BoardFilter)))).data)


class OwedView(ApiView):
    """What stands in the way."""

    @extend_schema(operation_id="board_owed", parameters=FILTERS, responses={200: OwedShape(many=True)})
    def get(self, request: Request) -> Response:
        """Everything that stops something, worst first, with who owns it."""
        rows = owed(self.actor, BoardQuery(**self.query(BoardFilter)))
        return Response(OwedShape(rows, many=True).data)


class AircraftStatusView(ApiView):
    """The operating status of one aircraft."""

    @extend_schema(operation_id="aircraft_status", responses={200: StatusShape, 404: NOT_HERE})
    def get(self, request: Request, registration: str) -> Response:
        """The state with every reason."""
        aircraft = aircraft_for(self.actor, registration)
        return Response(StatusShape(status_of([aircraft.pk])[aircraft.pk]).data)
