"""The cards of a run's screen: each step with its form, its timer and what its answer came to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Any

from fleet.common.errors import Refusal
from records.judge.bench_run_data import run_verdict_to_data
from records.judge.terms import Outcome
from records.screens.parts import PartView, part_views
from records.screens.step_forms import StepForm, is_timer, step_form
from records.screens.timers import Session, Timer, rest_ends, timer_of
from records.selectors.run_sheet import RunSheet, StepRow, StepState
from records.services.verdicts import judge_whole
from scheduling.limits.kinds import describe
from scheduling.steps.terms import ProcedureContent, Step, points_of


@dataclass(frozen=True, slots=True)
class StepCard:
    """One step on the page. `form` only where this person may answer it now."""

    row: StepRow
    form: StepForm | None
    timer: Timer | None
    rested_at: datetime | None
    parts: tuple[PartView, ...]
    is_open: bool
    allowed: str = ""

    @property
    def is_complete(self) -> bool:
        """Whether the timer made every run that is asked for."""
        return self.timer is not None and self.timer.is_complete(self.row.step)

    @property
    def template(self) -> str:
        """The template of the step's kind."""
        return f"records/steps/{self.row.step.kind.value}.html"

    @property
    def level(self) -> str:
        """The mark of the answer."""
        if self.row.state is not StepState.DONE:
            return "unknown"
        order = ("stop", "soon", "unknown", "clear")
        return min((part.level for part in self.parts), key=order.index, default="clear")


@dataclass(frozen=True, slots=True)
class SoFar:
    """What the judge would say of everything entered so far; empty where it cannot be judged."""

    outcome: str = ""
    reason: str = ""
    parts: tuple[Mapping[str, Any], ...] = ()

    @property
    def wrong(self) -> tuple[str, ...]:
        """What is outside its limit already, whatever is still missing."""
        fine = (Outcome.PASS, Outcome.CONDITIONAL_PASS, Outcome.INCOMPLETE)
        return tuple(
            f"{part['label']}: {part['reason']}" for part in self.parts if part["outcome"] not in fine
        )


def so_far(sheet: RunSheet) -> SoFar:
    """The provisional verdict of the whole run, by the same judge that gives the final one."""
    try:
        verdict, definition = judge_whole(sheet.run, sheet.content)
    except Refusal as refusal:
        return SoFar(reason=refusal.sentence)
    data: dict[str, Any] = run_verdict_to_data(verdict, definition)
    return SoFar(data["outcome"], data["reason"], tuple(data["parts"]))


@dataclass(frozen=True, slots=True)
class Bench:
    """What the cards need beside the run: the provisional verdict, the timers, and the form that was refused."""

    judged: SoFar
    session: Session
    editable: bool = False
    bound: StepForm | None = None


NOTHING_YET: Session = MappingProxyType({})  # type: ignore[assignment]


def cards_of(sheet: RunSheet, bench: Bench) -> list[StepCard]:
    """Every step as a card; the step being answered and the last answer stand open."""
    answered = (row for row in sheet.rows if row.attempts)
    last = max(answered, key=lambda row: row.attempts[-1].answer.pk, default=None)
    return [_card(sheet, bench, row, is_last=row is last) for row in sheet.rows]


def _card(sheet: RunSheet, bench: Bench, row: StepRow, *, is_last: bool) -> StepCard:
    step, bound = row.step, bench.bound
    is_bound = bound is not None and bound.step.key == step.key
    may_answer = bench.editable and row.state in (StepState.NOW, StepState.DONE) and step.needs_answer
    form = step_form(row, sheet.content, sheet.run.aircraft.base.zone) if may_answer else None
    timer = timer_of(bench.session, sheet.run.pk, step) if may_answer and is_timer(step) else None
    wanted = part_keys(step, sheet.content)
    parts = tuple(part_views(p for p in bench.judged.parts if p["key"] in wanted)) if row.latest else ()
    return StepCard(
        row=row,
        form=bound if is_bound else form,
        timer=timer,
        rested_at=rest_ends(step, timer) if timer else None,
        parts=parts,
        is_open=is_bound or timer is not None or (is_last and any(part.scale for part in parts)),
        allowed=describe(sheet.content.point(step.point).limit) if step.point else "",
    )


def part_keys(step: Step, content: ProcedureContent) -> set[str]:
    """The parts of the verdict that a step decides, and the comparisons that its points complete."""
    own = {step.key, f"{step.key}-count", f"{step.key}-time", *points_of(step)}
    return own | {point.key for point in content.points if point.of and set(point.of) & own}
