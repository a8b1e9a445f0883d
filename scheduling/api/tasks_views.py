"""Tasks: list, raise, read, give to somebody, start, withdraw."""

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
from scheduling.api.tasks_shapes import ReasonShape, TaskChange, TaskFilter, TaskShape, WantedTaskShape
from scheduling.models import Task
from scheduling.selectors.tasks import TaskQuery, task_for, task_list
from scheduling.services.tasks import WantedTask, assign_task, raise_task, start_task, withdraw_task


def tag_of(task: Task) -> str:
    return entity_tag("task", task.pk, task.version)


def answer(view: ApiView, task_id: int, status: int = 200) -> Response:
    """The task as it stands, with its entity tag."""
    task = task_for(view.actor, task_id)
    headers = {"ETag": tag_of(task), "Location": f"/api/v1/tasks/{task.pk}/"}
    return Response(TaskShape(task).data, status=status, headers=headers)


class TaskListView(CommandView):
    """Tasks of the operator."""

    @extend_schema(
        operation_id="tasks_list",
        parameters=[
            asked("whose", "all, mine, free or base"),
            asked("state", "open, done, all, or one state"),
            asked("search", "words in title, registration or procedure"),
            asked("base", "code of a base"),
            asked("aircraft", "registration"),
            *PAGING,
        ],
        responses={200: paged(TaskShape), 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """Tasks that fit, newest first."""
        return self.page(task_list(self.actor, TaskQuery(**self.query(TaskFilter))), TaskShape)

    @extend_schema(
        operation_id="tasks_raise",
        parameters=[KEY],
        request=WantedTaskShape,
        responses={201: TaskShape, 200: TaskShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Raise a task, or join the open one (200)."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(WantedTaskShape)
        wanted = WantedTask(
            aircraft_id=aircraft_for(self.actor, data["aircraft"]).pk,
            procedure_code=data["procedure"],
            title=data["title"],
            why=data["why"],
            before=data["before"],
            latest_day=data["latest_day"],
        )
        task, was_there = raise_task(actor=self.actor, wanted=wanted)
        return answer(self, task.pk, 200 if was_there else 201)


class TaskView(ApiView):
    """One task."""

    @extend_schema(operation_id="tasks_read", responses={200: TaskShape, 404: NOT_HERE})
    def get(self, request: Request, task_id: int) -> Response:
        """One task with its reasons and its entity tag."""
        return answer(self, task_id)

    @extend_schema(
        operation_id="tasks_assign",
        parameters=[IF_MATCH],
        request=TaskChange,
        responses={200: TaskShape, 409: FORBIDS, 412: STALE, 422: MAKES_NO_SENSE},
    )
    def patch(self, request: Request, task_id: int) -> Response:
        """Give the task to somebody, or to nobody."""
        data = self.parsed(TaskChange)
        self.must_match(tag_of(task_for(self.actor, task_id)))
        assign_task(actor=self.actor, task_id=task_id, person_id=data["assigned_to"])
        return answer(self, task_id)


class TaskStartView(CommandView):
    """Begin the work."""

    @extend_schema(
        operation_id="tasks_start",
        parameters=[KEY],
        request=None,
        responses={200: TaskShape, 409: FORBIDS},
    )
    def post(self, request: Request, task_id: int) -> Response:
        """Start the task; refused (409) while it waits for other work."""
        return super().post(request, task_id=task_id)

    def command(self, request: Request, task_id: int) -> Response:
        start_task(actor=self.actor, task_id=task_id)
        return answer(self, task_id)


class TaskWithdrawView(CommandView):
    """Take a task back."""

    @extend_schema(
        operation_id="tasks_withdraw",
        parameters=[KEY],
        request=ReasonShape,
        responses={200: TaskShape, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, task_id: int) -> Response:
        """Withdraw the task with a reason."""
        return super().post(request, task_id=task_id)

    def command(self, request: Request, task_id: int) -> Response:
        reason = self.parsed(ReasonShape)["reason"]
        withdraw_task(actor=self.actor, task_id=task_id, reason=reason)
        return answer(self, task_id)
