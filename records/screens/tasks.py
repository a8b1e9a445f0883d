"""The page of one task, and its buttons: start, assign, withdraw."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.errors import Invalid
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, Screen
from records.screens.links import link
from records.screens.parts import part_views
from records.screens.run_cards import part_keys
from records.screens.run_page import run_address
from records.screens.step_forms import fresh_key
from records.selectors.run_sheet import colleagues_who_perform
from records.selectors.task_sheet import TaskSheet, task_sheet
from records.services.runs import Opening, open_run
from scheduling.models import Before, TaskState
from scheduling.selectors.tasks import by_when
from scheduling.services.tasks import assign_task, withdraw_task
from scheduling.steps.terms import StepKind

LEVELS = {"closed": "clear", "withdrawn": "clear", "in_work": "soon", "awaiting_signature": "soon"}


class TaskPage(Screen):
    """One task: why, what first, what with, and the way in."""

    template_name = "records/task.html"

    def page(self, task_id: int) -> dict[str, Any]:
        """Everything around the task, and what this person may do with it."""
        sheet = task_sheet(self.actor, task_id)
        task, actor = sheet.task, self.actor
        may_plan = actor.may(Verb.PLAN) and task.is_open
        may_perform = actor.may(Verb.PERFORM)
        startable = task.state in (TaskState.RAISED, TaskState.PLANNED)
        return {
            "sheet": sheet,
            "task": task,
            "zone": task.aircraft.base.zone,
            "level": LEVELS.get(task.state, "stop" if task.before != Before.NONE else "unknown"),
            "causes": [cause_view(cause) for cause in sheet.causes],
            "by_when": by_when(task),
            "steps": _steps(sheet),
            "previous_parts": previous_parts(sheet),
            "may_start": may_perform and startable and sheet.content is not None,
            "start_key": fresh_key(),
            "may_plan": may_plan,
            "may_take": may_perform and task.is_open and task.assigned_to_id is None and not may_plan,
            "colleagues": colleagues_who_perform(actor) if may_plan else [],
            "may_withdraw": actor.may(Verb.RAISE_TASK) and startable and not task.is_defect,
            "may_sign": actor.may(Verb.SIGN) or actor.may(Verb.INSPECT),
            "due_url": link("scheduling:due-item", task.applicability_id) if task.applicability_id else "",
            "card_url": link("records:task-card", task.pk),
        }


def cause_view(cause: Any) -> dict[str, Any]:
    """Why a task exists, with where each reason leads."""
    return {
        "when": cause.at,
        "what": cause.words,
        "url": link("scheduling:event", cause.event_id) if cause.event_id else "",
        "detail": f"Rule {cause.rule.code} version {cause.rule.version}: {cause.rule.title}"
        if cause.rule
        else "",
        "rule_url": link("scheduling:rule", cause.rule.code) if cause.rule else "",
        "level": "soon",
    }


def _steps(sheet: TaskSheet) -> list[Any]:
    return list(sheet.content.steps_for(sheet.options)) if sheet.content else []


def previous_parts(sheet: TaskSheet) -> list[Any]:
    """What was measured last time, without the plain checks."""
    if sheet.previous is None or sheet.previous.run is None or sheet.content is None:
        return []
    wanted: set[str] = set()
    for step in sheet.content.steps:
        if step.kind in (StepKind.READ_VALUE, StepKind.COLLECT, StepKind.OUTLETS):
            wanted |= part_keys(step, sheet.content)
    parts = sheet.previous.run.verdict_detail.get("parts", [])
    return [part for part in part_views(parts) if part.key in wanted and part.reading]


class TaskStart(CommandScreen):
    """Begin a run of the task; pressed twice it opens the same run."""

    def act(self, task_id: int) -> str:
        """Open the run and go to its first step."""
        opening = Opening(task_id, self.request.POST.get("key", ""), now())
        run, _ = open_run(actor=self.actor, opening=opening)
        return run_address(run.pk)


class TaskAssign(CommandScreen):
    """Give the task to somebody, to nobody, or take it oneself."""

    def act(self, task_id: int) -> str:
        """Assign it."""
        chosen = self.request.POST.get("person", "")
        person = plain_number(chosen)
        if chosen and person is None:
            raise Invalid("bad_task", "Choose who does the work from the list.")
        assign_task(actor=self.actor, task_id=task_id, person_id=person)
        return reverse("records:task", args=[task_id])


class TaskWithdraw(CommandScreen):
    """Take the task back with a reason."""

    done = "The task is withdrawn."

    def act(self, task_id: int) -> str:
        """Withdraw it."""
        withdraw_task(actor=self.actor, task_id=task_id, reason=self.request.POST.get("reason", ""))
        return reverse("records:task", args=[task_id])
