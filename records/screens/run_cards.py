"""The cards of a run's screen: each step with its form, its timer and what its answer came to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms

from fleet.common.errors import Refusal
from fleet.common.wording import day
from records.judge.bench_run_data import run_verdict_to_data
from records.judge.terms import Outcome
from records.screens.parts import PartView, part_views
from records.screens.step_forms import StepForm, is_timer, step_form, units_like
from records.screens.timers import Session, Timer, rest_ends, timer_of
from records.selectors.at_hand import RoleNeed
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


def cards_of(
    sheet: RunSheet, judged: SoFar, session: Session, *, editable: bool, bound: StepForm | None = None
) -> list[StepCard]:
    """Every step as a card; the step being answered and the last answer stand open."""
    last = max(
        (row for row in sheet.rows if row.attempts), key=lambda row: row.attempts[-1].answer.pk, default=None
    )
    return [
        _card(sheet, row, judged, session, editable=editable, bound=bound, is_last=row is last)
        for row in sheet.rows
    ]


def _card(
    sheet: RunSheet,
    row: StepRow,
    judged: SoFar,
    session: Session,
    *,
    editable: bool,
    bound: StepForm | None,
    is_last: bool,
) -> StepCard:
    is_bound = bound is not None and bound.step.key == row.step.key
    may_answer = editable and row.state in (StepState.NOW, StepState.DONE) and row.step.needs_answer
    form = step_form(row, sheet.content, sheet.run.aircraft.base.zone) if may_answer else None
    timer = timer_of(session, sheet.run.pk, row.step) if may_answer and is_timer(row.step) else None
    wanted = part_keys(row.step, sheet.content)
    parts = tuple(part_views(p for p in judged.parts if p["key"] in wanted)) if row.latest else ()
    return StepCard(
        row=row,
        form=bound if is_bound else form,
        timer=timer,
        rested_at=rest_ends(row.step, timer) if timer else None,
        parts=parts,
        is_open=is_bound or timer is not None or (is_last and any(part.scale for part in parts)),
        allowed=describe(sheet.content.point(row.step.point).limit) if row.step.point else "",
    )


def part_keys(step: Step, content: ProcedureContent) -> set[str]:
    """The parts of the verdict that a step decides, and the comparisons that its points complete."""
    own = {step.key, f"{step.key}-count", f"{step.key}-time", *points_of(step)}
    return own | {point.key for point in content.points if point.of and set(point.of) & own}


class AtHandForm(forms.Form):
    """Which equipment fills each role, and which fluid lot is used."""

    amount = forms.CharField(
        label="Amount",
        max_length=24,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    unit = forms.ChoiceField(label="Unit")

    def __init__(self, sheet: RunSheet, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sheet = sheet
        amount, unit = self.fields.pop("amount"), self.fields.pop("unit")
        for role in sheet.need.roles:
            self.fields[role_field(role)] = self._role(role)
        if sheet.need.fluid is not None:
            self._fluid(amount, unit)

    def _role(self, role: RoleNeed) -> forms.ChoiceField:
        use = self.sheet.uses.get(role.need.role)
        usable = [tool for tool in role.tools if tool.is_usable]
        choices = [("", "Choose")] + [
            (str(tool.equipment.pk), f"{tool.equipment.code}, {tool.short}") for tool in usable
        ]
        barred = [
            f"{tool.equipment.code}: {tool.words}"
            for tool in role.tools
            if not tool.is_usable and tool.is_here
        ]
        first = str(use.equipment_id) if use else self._free_choice(role)
        return forms.ChoiceField(
            label=role.need.name,
            choices=choices,
            initial=first,
            help_text=f"Not usable: {'; '.join(barred)}." if barred else "",
            error_messages={"required": f"Say which {role.need.name.lower()} is used."},
        )

    def _free_choice(self, role: RoleNeed) -> str:
        """The first usable piece at this base that no role before it took."""
        taken = {str(field.initial) for name, field in self.fields.items() if name.startswith("equipment-")}
        free = [str(tool.equipment.pk) for tool in role.usable if tool.is_here]
        return next((key for key in free if key not in taken), "")

    def _fluid(self, amount: forms.Field, unit: forms.Field) -> None:
        need, use = self.sheet.need.fluid, self.sheet.lot_use
        lots = [
            (str(lot.lot.pk), f"{lot.lot.batch}, {lot.lot.base}, good to {day(lot.lot.expires_on)}")
            for lot in self.sheet.need.usable_lots
        ]
        self.fields["lot"] = forms.ChoiceField(
            label="Fluid lot",
            choices=[("", "Choose"), *lots],
            initial=str(use.lot_id) if use else (lots[0][0] if len(lots) == 1 else ""),
            error_messages={"required": "Say which approved lot is used."},
        )
        assert need is not None  # noqa: S101 - only called where fluid is needed
        amount.help_text = f"At least {need.minimum:f} {need.unit}" + (
            f", {need.note}." if need.note else "."
        )
        amount.initial = use.amount if use else ""
        unit.choices = units_like(need.unit)  # type: ignore[attr-defined]
        unit.initial = use.unit if use else need.unit
        self.fields["amount"], self.fields["unit"] = amount, unit


def role_field(role: RoleNeed) -> str:
    """The name of a role's field."""
    return f"equipment-{role.need.role}"
