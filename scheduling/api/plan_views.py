"""Week plans: list, ask, read, move, publish, throw away; and the places they are made with."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag
from fleet.selectors.aircraft import aircraft_for
from scheduling.api.answers import (
    FORBIDS,
    IF_MATCH,
    KEY,
    MAKES_NO_SENSE,
    NOT_HERE,
    PAGING,
    STALE,
    asked,
    paged,
)
from scheduling.api.plan_shapes import (
    AskedWeekShape,
    BayClosing,
    BayShape,
    GroundTimeShape,
    NewGroundTimesShape,
    NewShiftsShape,
    PlaceFilter,
    ShiftShape,
    SlotMoveShape,
    TaskNamed,
    WeekPlanBrief,
    WeekPlanFilter,
    WeekPlanShape,
)
from scheduling.jobs import solve_weeks
from scheduling.models import WeekPlan
from scheduling.selectors.week import (
    base_asked_for,
    bays_of,
    ground_times_of,
    plan_for,
    plan_list,
    shifts_of,
)
from scheduling.services.plans import ask_for_week, discard_draft, open_draft, publish_week
from scheduling.services.slot_moves import SlotMove, move_slot, take_out, unpin_slot
from scheduling.services.week_places import (
    Pattern,
    add_bay,
    add_ground_times,
    add_shifts,
    close_bay,
    remove_ground_time,
    remove_shift,
)

BASE = asked("base", "code of a base")


def tag_of(plan: WeekPlan) -> str:
    return entity_tag("week-plan", plan.pk, plan.version)


def answer(view: ApiView, plan_id: int, status: int = 200) -> Response:
    """The plan as it stands, with its entity tag."""
    plan = plan_for(view.actor, plan_id)
    headers = {"ETag": tag_of(plan), "Location": f"/api/v1/week-plans/{plan.pk}/"}
    return Response(WeekPlanShape(plan).data, status=status, headers=headers)


class WeekPlanListView(CommandView):
    """Week plans of the operator."""

    @extend_schema(
        operation_id="week_plans_list",
        parameters=[BASE, asked("monday", "the Monday of a week"), *PAGING],
        responses={200: paged(WeekPlanBrief), 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """Plans, newest first; drafts only for who plans."""
        return self.page(plan_list(self.actor, **self.query(WeekPlanFilter)), WeekPlanBrief)

    @extend_schema(
        operation_id="week_plans_ask",
        parameters=[KEY],
        request=AskedWeekShape,
        responses={202: WeekPlanShape, 201: WeekPlanShape, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Ask for a week (202: it is being worked out), or open a draft to change by hand (201)."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(AskedWeekShape)
        week = {"base_id": base_asked_for(self.actor, data["base"]).pk, "monday": data["monday"]}
        if data["by_hand"]:
            return answer(self, open_draft(actor=self.actor, **week).pk, 201)
        plan = ask_for_week(actor=self.actor, **week)
        solve_weeks.delay_on_commit()
        return answer(self, plan.pk, 202)


class WeekPlanView(ApiView):
    """One week plan."""

    @extend_schema(operation_id="week_plans_read", responses={200: WeekPlanShape, 404: NOT_HERE})
    def get(self, request: Request, plan_id: int) -> Response:
        """The plan with its slots and what found no place."""
        return answer(self, plan_id)

    @extend_schema(
        operation_id="week_plans_discard",
        parameters=[IF_MATCH],
        responses={204: None, 404: NOT_HERE, 409: FORBIDS, 412: STALE},
    )
    def delete(self, request: Request, plan_id: int) -> Response:
        """Throw a draft away."""
        self.must_match(tag_of(plan_for(self.actor, plan_id)))
        discard_draft(actor=self.actor, plan_id=plan_id)
        return Response(status=204)


class WeekPublishView(CommandView):
    """Put a draft in force."""

    @extend_schema(
        operation_id="week_plans_publish",
        parameters=[KEY, IF_MATCH],
        request=None,
        responses={200: WeekPlanShape, 409: FORBIDS, 412: STALE},
    )
    def post(self, request: Request, plan_id: int) -> Response:
        """Publish the version that was read; its tasks become planned."""
        return super().post(request, plan_id=plan_id)

    def command(self, request: Request, plan_id: int) -> Response:
        plan = plan_for(self.actor, plan_id)
        self.must_match(tag_of(plan))
        publish_week(actor=self.actor, plan_id=plan_id, version=plan.version)
        return answer(self, plan_id)


class SlotMoveView(CommandView):
    """Move work on a draft."""

    @extend_schema(
        operation_id="week_plans_move",
        parameters=[KEY],
        request=SlotMoveShape,
        responses={200: WeekPlanShape, 404: NOT_HERE, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, plan_id: int) -> Response:
        """Move or place a task; what cannot stand is refused with every reason."""
        return super().post(request, plan_id=plan_id)

    def command(self, request: Request, plan_id: int) -> Response:
        data = self.parsed(SlotMoveShape)
        wanted = SlotMove(plan_id, data["task"], data["starts_at"], data["bay"])
        move_slot(actor=self.actor, move=wanted)
        return answer(self, plan_id)


class SlotUnpinView(CommandView):
    """Let the planner move a slot again."""

    @extend_schema(
        operation_id="week_plans_unpin",
        parameters=[KEY],
        request=TaskNamed,
        responses={200: WeekPlanShape, 404: NOT_HERE, 409: FORBIDS},
    )
    def post(self, request: Request, plan_id: int) -> Response:
        """Take the pin of a task out."""
        return super().post(request, plan_id=plan_id)

    def command(self, request: Request, plan_id: int) -> Response:
        unpin_slot(actor=self.actor, plan_id=plan_id, task_id=self.parsed(TaskNamed)["task"])
        return answer(self, plan_id)


class SlotTakeOutView(CommandView):
    """Take work off a draft."""

    @extend_schema(
        operation_id="week_plans_take_out",
        parameters=[KEY],
        request=TaskNamed,
        responses={200: WeekPlanShape, 404: NOT_HERE, 409: FORBIDS},
    )
    def post(self, request: Request, plan_id: int) -> Response:
        """Take a task out; it stays open work."""
        return super().post(request, plan_id=plan_id)

    def command(self, request: Request, plan_id: int) -> Response:
        take_out(actor=self.actor, plan_id=plan_id, task_id=self.parsed(TaskNamed)["task"])
        return answer(self, plan_id)


class BayListView(CommandView):
    """Bays."""

    @extend_schema(operation_id="bays_list", parameters=[BASE, *PAGING], responses={200: paged(BayShape)})
    def get(self, request: Request) -> Response:
        """Bays of the operator or of one base."""
        code = self.query(PlaceFilter)["base"]
        rows = bays_of(self.actor, base_asked_for(self.actor, code) if code else None)
        return self.page(rows, BayShape, ("name", "id"))

    @extend_schema(
        operation_id="bays_add",
        parameters=[KEY],
        request=BayShape,
        responses={201: BayShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """A new bay."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(BayShape)
        base = base_asked_for(self.actor, data["base"]["code"])
        row = add_bay(actor=self.actor, base_id=base.pk, name=data["name"])
        return Response(BayShape(row).data, status=201)


class BayCloseView(CommandView):
    """Close a bay or open it again."""

    @extend_schema(
        operation_id="bays_close",
        parameters=[KEY],
        request=BayClosing,
        responses={200: BayShape, 404: NOT_HERE, 409: FORBIDS},
    )
    def post(self, request: Request, bay_id: int) -> Response:
        """Close it from a day on; null opens it."""
        return super().post(request, bay_id=bay_id)

    def command(self, request: Request, bay_id: int) -> Response:
        row = close_bay(actor=self.actor, bay_id=bay_id, day=self.parsed(BayClosing)["closed_on"])
        return Response(BayShape(row).data)


def pattern_of(data: dict[str, object]) -> Pattern:
    """The stretch of days a request names."""
    values = {name: data[name] for name in ("first_day", "last_day", "starts", "ends")}
    return Pattern(**values, weekdays=tuple(data["weekdays"]))  # type: ignore[arg-type]


class ShiftListView(CommandView):
    """Shifts."""

    @extend_schema(operation_id="shifts_list", parameters=[BASE, *PAGING], responses={200: paged(ShiftShape)})
    def get(self, request: Request) -> Response:
        """Shifts by their begin."""
        code = self.query(PlaceFilter)["base"]
        rows = shifts_of(self.actor, base_asked_for(self.actor, code) if code else None)
        return self.page(rows, ShiftShape, ("starts_at", "id"))

    @extend_schema(
        operation_id="shifts_add",
        parameters=[KEY],
        request=NewShiftsShape,
        responses={201: ShiftShape(many=True), 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Shifts of one person over a stretch of days; all of them or none."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(NewShiftsShape)
        rows = add_shifts(
            actor=self.actor,
            base_id=base_asked_for(self.actor, data["base"]).pk,
            person_id=data["person"],
            pattern=pattern_of(data),
            remark=data["remark"],
        )
        return Response(ShiftShape(rows, many=True).data, status=201)


class ShiftView(ApiView):
    """One shift."""

    @extend_schema(operation_id="shifts_remove", responses={204: None, 404: NOT_HERE})
    def delete(self, request: Request, shift_id: int) -> Response:
        """Take it away."""
        remove_shift(actor=self.actor, shift_id=shift_id)
        return Response(status=204)


class GroundTimeListView(CommandView):
    """Ground times."""

    @extend_schema(
        operation_id="ground_times_list", parameters=[BASE, *PAGING], responses={200: paged(GroundTimeShape)}
    )
    def get(self, request: Request) -> Response:
        """Ground times by their begin."""
        code = self.query(PlaceFilter)["base"]
        rows = ground_times_of(self.actor, base_asked_for(self.actor, code) if code else None)
        return self.page(rows, GroundTimeShape, ("starts_at", "id"))

    @extend_schema(
        operation_id="ground_times_add",
        parameters=[KEY],
        request=NewGroundTimesShape,
        responses={201: GroundTimeShape(many=True), 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Times an aircraft stands at a base over a stretch of days; all of them or none."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(NewGroundTimesShape)
        rows = add_ground_times(
            actor=self.actor,
            base_id=base_asked_for(self.actor, data["base"]).pk,
            aircraft_id=aircraft_for(self.actor, data["aircraft"]).pk,
            pattern=pattern_of(data),
        )
        return Response(GroundTimeShape(rows, many=True).data, status=201)


class GroundTimeView(ApiView):
    """One ground time."""

    @extend_schema(operation_id="ground_times_remove", responses={204: None, 404: NOT_HERE})
    def delete(self, request: Request, ground_time_id: int) -> Response:
        """Take it away."""
        remove_ground_time(actor=self.actor, ground_time_id=ground_time_id)
        return Response(status=204)
