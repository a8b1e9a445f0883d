"""A run as its screen shows it: every step with what was entered, which is next, what is at hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleet.common.actor import POLICY, Actor, Verb
from fleet.common.clock import local_day
from fleet.models import Membership, Position, User
from fleet.selectors.aircraft import options_of, outlets_of
from records.gather.judging import content_of, latest_answers
from records.models import BenchRun, EquipmentUse, LotUse, RunState, StepAnswer
from records.selectors.answer_words import answer_words
from records.selectors.at_hand import AtHand, at_hand
from records.selectors.runs import run_for
from scheduling.steps.terms import ProcedureContent, Step, StepKind


class StepState(StrEnum):
    """Where a step stands."""

    DONE = "done"
    NOW = "now"
    LATER = "later"
    SAID = "said"


@dataclass(frozen=True, slots=True)
class Attempt:
    """One answer to a step, in words; only the last counts, and none where its timed run was repeated."""

    answer: StepAnswer
    words: str
    counts: bool


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step of this aircraft's procedure. `outlets` only where it asks for them."""

    step: Step
    number: int
    state: StepState
    attempts: tuple[Attempt, ...] = ()
    outlets: tuple[Position, ...] = ()

    @property
    def latest(self) -> Attempt | None:
        """The answer that counts."""
        return next((each for each in reversed(self.attempts) if each.counts), None)

    @property
    def is_repeat(self) -> bool:
        """Whether another answer needs its reason."""
        return bool(self.attempts)


@dataclass(frozen=True, slots=True)
class RunSheet:
    """Everything the screen of a run shows."""

    run: BenchRun
    content: ProcedureContent
    rows: tuple[StepRow, ...]
    need: AtHand
    uses: Mapping[str, EquipmentUse]
    lot_use: LotUse | None

    @property
    def now(self) -> StepRow | None:
        """The first step still to be answered."""
        return next((row for row in self.rows if row.state is StepState.NOW), None)

    @property
    def done(self) -> int:
        """How many steps are answered."""
        return sum(row.state is StepState.DONE for row in self.rows)

    @property
    def asked(self) -> int:
        """How many steps must be answered."""
        return sum(row.step.needs_answer for row in self.rows)

    @property
    def is_provided(self) -> bool:
        """Whether every piece of equipment and the fluid are named."""
        roles = all(role.need.role in self.uses for role in self.need.roles)
        return roles and (self.need.fluid is None or self.lot_use is not None)

    def row(self, key: str) -> StepRow | None:
        """The row of one step."""
        return next((row for row in self.rows if row.step.key == key), None)


def run_sheet(actor: Actor, run_id: int) -> RunSheet:
    """The run with its steps; a stranger's is not found."""
    run = run_for(actor, run_id)
    content = content_of(run)
    day = local_day(run.aircraft.base.zone, run.started_at)
    return RunSheet(
        run=run,
        content=content,
        rows=_rows(run, content),
        need=at_hand(actor, run.aircraft, content, day),
        uses={use.role: use for use in run.equipment_uses.select_related("equipment")},
        lot_use=run.lot_uses.select_related("lot").order_by("id").last(),
    )


def _rows(run: BenchRun, content: ProcedureContent) -> tuple[StepRow, ...]:
    steps = content.steps_for(options_of(run.aircraft))
    answers = list(run.answers.select_related("by").order_by("id"))
    counting = {key: answer.pk for key, answer in latest_answers(run, content).items()}
    now = next((step.key for step in steps if step.needs_answer and step.key not in counting), "")
    outlets = _outlets(run, steps)
    reached = True
    rows = []
    for number, step in enumerate(steps, 1):
        state = _state(step, counting, now, reached=reached)
        reached = reached and state is not StepState.NOW
        attempts = _attempts(step, answers, counting, run.aircraft.base.zone)
        mine = tuple(outlet for outlet in outlets if outlet.zone in step.zones)
        rows.append(StepRow(step, number, state, attempts, mine if step.zones else ()))
    return tuple(rows)


def _outlets(run: BenchRun, steps: Sequence[Step]) -> list[Position]:
    zones = tuple({zone for step in steps if step.kind is StepKind.OUTLETS for zone in step.zones})
    return list(outlets_of(run.aircraft, zones)) if zones else []


def _state(step: Step, counting: Mapping[str, int], now: str, *, reached: bool) -> StepState:
    if step.key in counting:
        return StepState.DONE
    if step.key == now:
        return StepState.NOW
    if not step.needs_answer and reached:
        return StepState.SAID
    return StepState.LATER


def _attempts(
    step: Step, answers: Sequence[StepAnswer], counting: Mapping[str, int], zone: str
) -> tuple[Attempt, ...]:
    return tuple(
        Attempt(answer, answer_words(answer.answer, zone), counting.get(step.key) == answer.pk)
        for answer in answers
        if answer.step == step.key
    )


def colleagues_who_perform(actor: Actor, *, but: int | None = None) -> list[User]:
    """Everybody at the operator whose role does maintenance work, by name."""
    doing = [role.value for role in POLICY[Verb.PERFORM]]
    held = Membership.objects.filter(operator_id=actor.operator_id, role__in=doing)
    rows = User.objects.filter(pk__in=held.values("user_id"), is_active=True)
    return [person for person in rows.order_by("last_name", "first_name", "id") if person.pk != but]


def may_work_on(actor: Actor, run: BenchRun) -> bool:
    """Whether this person may enter something now: theirs, open, and their role performs."""
    return actor.may(Verb.PERFORM) and run.performer_id == actor.user_id and run.state == RunState.OPEN
