"""The week: a board of bays by days for who plans, one's own days for who works."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.errors import Invalid, Reason
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, Screen
from scheduling.jobs import solve_weeks
from scheduling.models import WeekPlan
from scheduling.screens.words import base_choices, link, task_level
from scheduling.selectors.week import (
    Card,
    WeekBoard,
    base_asked_for,
    monday_of,
    my_week,
    plan_for,
    week_board,
)
from scheduling.services.plans import ask_for_week, discard_draft, open_draft, publish_week
from scheduling.services.slot_moves import SlotMove, move_slot, take_out, unpin_slot

WORKING = (WeekPlan.State.ASKED, WeekPlan.State.SOLVING)
WEEK = timedelta(days=7)


def week_address(base: str, monday: date, **more: str) -> str:
    """The page of one week at one base."""
    asked = urlencode({"base": base, "monday": monday.isoformat(), **more})
    return f"{reverse('scheduling:week')}?{asked}"


class WeekScreen(Screen):
    """The board. Who does the work sees their own week first."""

    template_name = "scheduling/week.html"

    def page(self) -> dict[str, Any]:
        """The board or the person's own days, and what may be done."""
        asked = self.request.GET
        base = base_asked_for(self.actor, asked.get("base", ""))
        monday = monday_of(base, asked.get("monday", ""))
        is_mine = asked.get("whose", "mine" if self._works() else "base") == "mine"
        tabs = [
            (name, week_address(base.code, monday, whose=whose)) for whose, name in self._views(base.name)
        ]
        common = {
            "base": base,
            "monday": monday,
            "sunday": monday + timedelta(days=6),
            "earlier": week_address(base.code, monday - WEEK, whose="mine" if is_mine else "base"),
            "later": week_address(base.code, monday + WEEK, whose="mine" if is_mine else "base"),
            "views": tabs,
            "bases": base_choices(self.actor),
            "is_mine": is_mine,
            "view": "My week" if is_mine else base.name,
            "may_plan": self.actor.may(Verb.PLAN),
        }
        if is_mine:
            return common | {"my_days": [(day, _shown(cards)) for day, cards in my_week(self.actor, monday)]}
        show_published = asked.get("show") == "published"
        return common | self._board(week_board(self.actor, base, monday, show_published=show_published))

    def _works(self) -> bool:
        return self.actor.may(Verb.PERFORM) and not self.actor.may(Verb.PLAN)

    def _views(self, base: str) -> list[tuple[str, str]]:
        views = [("base", base)]
        return [("mine", "My week"), *views] if self.actor.may(Verb.PERFORM) else views

    def _board(self, board: WeekBoard) -> dict[str, Any]:
        plan = board.plan
        is_draft = plan is not None and plan.state == WeekPlan.State.DRAFT
        place = (board.base.code, board.monday)
        return {
            "board": board,
            "rows": [(row.bay, [_shown(cards) for cards in row.days]) for row in board.rows],
            "by_day": [(day, _shown(cards)) for day, cards in board.by_day],
            "day_choices": board.days,
            "bay_names": [row.bay for row in board.rows],
            "plan": plan,
            "is_draft": is_draft,
            "is_working": board.is_worked_out,
            "may_move": is_draft and self.actor.may(Verb.PLAN),
            "has_both": None not in (board.in_hand, board.published) and not board.is_worked_out,
            "draft_address": week_address(*place, whose="base"),
            "published_address": week_address(*place, whose="base", show="published"),
            "unplaced": [(one, link("records:task", one["task"])) for one in board.unplaced],
        }


def _shown(cards: Any) -> list[tuple[Card, str, str]]:
    """Cards with the mark of their task and where they lead."""
    return [(card, task_level(card.slot.task), link("records:task", card.slot.task_id)) for card in cards]


class WeekCommand(CommandScreen):
    """A button of the board; goes back to the week it was pressed on."""

    def back(self, plan: WeekPlan) -> str:
        """The board of the plan's week."""
        return week_address(plan.base.code, plan.monday, whose="base")

    def asked_week(self) -> dict[str, Any]:
        """Base and Monday as the form names them."""
        base = base_asked_for(self.actor, self.request.POST.get("base", ""))
        return {"base_id": base.pk, "monday": monday_of(base, self.request.POST.get("monday", ""))}

    def task(self) -> int:
        """The task the form names."""
        written = self.request.POST.get("task", "")
        task = plain_number(written)
        if task is None:
            reason = Reason("names no task", "task", written[:20], "choose a task of the board")
            raise Invalid("bad_task", reason.sentence(), reason)
        return task


class AskForWeek(WeekCommand):
    """Plan this week."""

    def act(self) -> str:
        """Leave the wish; the worker is rung once it is kept."""
        plan = ask_for_week(actor=self.actor, **self.asked_week())
        solve_weeks.delay_on_commit()
        return self.back(plan)


class OpenDraft(WeekCommand):
    """Change the plan by hand."""

    def act(self) -> str:
        """A copy of what is published."""
        return self.back(open_draft(actor=self.actor, **self.asked_week()))


class PublishWeek(WeekCommand):
    """Put the draft in force."""

    done = "The week is published. Its tasks are planned and given to people."

    def act(self, plan: int) -> str:
        """Publish the version that was looked at."""
        version = plain_number(self.request.POST.get("version", ""))
        row = publish_week(actor=self.actor, plan_id=plan, version=version)
        return self.back(row)


class DiscardDraft(WeekCommand):
    """Throw the draft away."""

    done = "The draft is thrown away."

    def act(self, plan: int) -> str:
        """What is published stays."""
        row = plan_for(self.actor, plan)
        discard_draft(actor=self.actor, plan_id=plan)
        return self.back(row)


class MoveSlot(WeekCommand):
    """Move work to another time or bay."""

    done = "Moved. It stays there when the week is planned again."

    def act(self, plan: int) -> str:
        """Day and time by the base's clock."""
        row = plan_for(self.actor, plan)
        at = _written_moment(self.request.POST, row.base.zone)
        bay = self.request.POST.get("bay", "")
        move_slot(actor=self.actor, move=SlotMove(plan, self.task(), at, bay))
        return self.back(row)


class UnpinSlot(WeekCommand):
    """Let the planner move it again."""

    done = "The planner may move it again."

    def act(self, plan: int) -> str:
        """Take the pin out."""
        row = plan_for(self.actor, plan)
        unpin_slot(actor=self.actor, plan_id=plan, task_id=self.task())
        return self.back(row)


class TakeOut(WeekCommand):
    """Take work off the board."""

    done = "Taken out; the task stays open."

    def act(self, plan: int) -> str:
        """The task stays open work."""
        row = plan_for(self.actor, plan)
        take_out(actor=self.actor, plan_id=plan, task_id=self.task())
        return self.back(row)


class WeekProgress(Screen):
    """The piece that says how far the planner is; asked every two seconds."""

    def get(self, request: HttpRequest, plan: int) -> HttpResponse:
        """Still working, or where the result is."""
        row = plan_for(self.actor, plan)
        is_working = row.state in WORKING
        context = {
            "label": f"Working out the week of {row.base}",
            "poll": reverse("scheduling:week-progress", args=[row.pk]) if is_working else "",
            "result": week_address(row.base.code, row.monday, whose="base"),
        }
        return render(request, "scheduling/week_progress.html", context)


def _written_moment(form: Any, zone: str) -> datetime:
    try:
        day, at = date.fromisoformat(form.get("day", "")), time.fromisoformat(form.get("time", ""))
    except ValueError as error:
        written = f"{form.get('day', '')} {form.get('time', '')}"[:30]
        reason = Reason("is no day and time", "time", written, "choose a day and write a time such as 09:30")
        raise Invalid("bad_start", reason.sentence(), reason) from error
    return datetime.combine(day, at, ZoneInfo(zone))
