"""Tasks: what is mine, my base's, everybody's; giving several to somebody; taking several back."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import QueryDict
from django.urls import reverse

from fleet.common.actor import Role, Verb
from fleet.common.errors import Invalid
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, FormScreen, Screen
from fleet.selectors.people import people
from scheduling.models import TaskState
from scheduling.screens.words import base_choices, task_level
from scheduling.selectors.tasks import TaskQuery, by_when, task_list, tasks
from scheduling.services.tasks import assign_tasks, withdraw_tasks

ROWS = 50
WORKERS = (Role.TECHNICIAN, Role.INSPECTOR)
VIEWS = {"mine": "Mine", "base": "My base", "free": "Nobody's", "all": "All"}
STATES = [("open", "Open"), *TaskState.choices, ("done", "Closed or withdrawn"), ("all", "Every state")]


class TaskListScreen(Screen):
    """The task list. Without a view chosen, who does the work sees their own, everybody else all."""

    template_name = "scheduling/tasks.html"

    def page(self) -> dict[str, Any]:
        """Rows of the chosen view, the views with their counts, and what may be done with picked rows."""
        query = self._query()
        rows = Paginator(task_list(self.actor, query), ROWS).get_page(self.request.GET.get("page"))
        return {
            "page": rows,
            "rows": [(task, task_level(task), by_when(task)) for task in rows.object_list],
            "views": [(words, self._address(whose), self._count(whose)) for whose, words in self._views()],
            "view": VIEWS[query.whose],
            "states": STATES[1:],
            "bases": base_choices(self.actor),
            "may_plan": self.actor.may(Verb.PLAN),
            "may_take": self.actor.may(Verb.PERFORM),
            "may_raise": self.actor.may(Verb.RAISE_TASK),
            "people": workers(self.actor),
            "query": self.request.GET.urlencode(),
            "sort": query.sort,
        }

    def _query(self) -> TaskQuery:
        asked = self.request.GET
        usual = "mine" if self.actor.may(Verb.PERFORM) else "all"
        narrowed = any(asked.get(name) for name in ("aircraft", "q"))
        whose = asked.get("whose") or ("all" if narrowed else usual)
        return TaskQuery(
            whose=whose if whose in VIEWS else usual,
            state=asked.get("state") or "open",
            search=asked.get("q", ""),
            base=asked.get("base", ""),
            aircraft=asked.get("aircraft", ""),
            sort=asked.get("sort") or "urgency",
        )

    def _views(self) -> list[tuple[str, str]]:
        offered = [name for name in VIEWS if name != "mine" or self.actor.may(Verb.PERFORM)]
        return [(name, VIEWS[name]) for name in offered if name != "base" or self.actor.base_id]

    def _address(self, whose: str) -> str:
        query: QueryDict = self.request.GET.copy()
        query["whose"] = whose
        query.pop("page", None)
        return f"{reverse('scheduling:tasks')}?{query.urlencode()}"

    def _count(self, whose: str) -> int:
        return task_list(self.actor, TaskQuery(whose=whose)).count()


def workers(actor: Any) -> list[tuple[int, str]]:
    """Key and name of everybody who does work."""
    rows = people(actor).filter(
        memberships__role__in=WORKERS, memberships__operator_id=actor.operator_id, is_active=True
    )
    return [(person.pk, person.full_name) for person in rows]


def picked(query: QueryDict) -> list[int]:
    """The keys of the rows that were ticked."""
    numbers = map(plain_number, query.getlist("task"))
    return [number for number in numbers if number is not None]


def back_to_list(query: str) -> str:
    """The task list as it was."""
    return (
        f"{reverse('scheduling:tasks')}?{QueryDict(query).urlencode()}"
        if query
        else reverse("scheduling:tasks")
    )


class GiveTasks(CommandScreen):
    """Give the ticked tasks to somebody."""

    done = "Done: the list shows who has what."

    def act(self) -> str:
        """All of them or none."""
        asked = self.request.POST
        person_id = plain_number(asked.get("person", ""))
        if asked.get("person") and person_id is None:
            raise Invalid("bad_task", "Choose who does the work from the list.")
        assign_tasks(actor=self.actor, task_ids=picked(asked), person_id=person_id)
        return back_to_list(asked.get("query", ""))


class WithdrawForm(forms.Form):
    """Why work is not needed."""

    reason = forms.CharField(
        label="Why is this work not needed?",
        max_length=300,
        help_text="It is kept with the tasks and in the trail.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class WithdrawTasks(FormScreen):
    """Confirm, with a reason, that the ticked tasks are taken back."""

    template_name = "scheduling/withdraw.html"
    form_class = WithdrawForm
    done = "The tasks are withdrawn."
    verb = Verb.RAISE_TASK

    def page(self) -> dict[str, Any]:
        """The tasks to be taken back."""
        rows = tasks(self.actor).filter(pk__in=picked(self.request.GET)).order_by("aircraft", "order", "id")
        return {"rows": [(task, task_level(task), by_when(task)) for task in rows]}

    def act(self, data: dict[str, Any]) -> str:
        """All of them or none."""
        withdraw_tasks(actor=self.actor, task_ids=picked(self.request.GET), reason=data["reason"])
        return back_to_list(self.request.GET.get("query", ""))
