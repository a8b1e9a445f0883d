"""Somebody does a task today or these days: every step through the product's own services, at its own moment."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import datetime, timedelta

from fleet.common.clock import frozen
from records.management.demo.entries import Flow, Hands, Sheet, sheet_of
from records.management.demo.past import AS_NEW
from records.management.demo.picture import picture_of
from records.management.demo.scenario import Scenario
from records.management.demo.stock import lot_on
from records.models import BenchRun
from records.selectors.runs import content_to_sign
from records.services.finishing import finish_run
from records.services.provisions import NewPhoto, add_photo, use_equipment, use_lot
from records.services.runs import Entry, Opening, answer_step, open_run, pause_run
from records.services.signing import Signing, sign
from scheduling.models import Task
from scheduling.services.tasks import current_version
from scheduling.steps.terms import StepKind


@dataclass(frozen=True, slots=True)
class Doing:
    """Who does which task, from when on; `steps` stops there and puts the run aside."""

    task: Task
    performer: str
    begin: datetime
    inspector: str = ""
    flow: Flow = AS_NEW
    steps: int | None = None


def do(scenario: Scenario, doing: Doing) -> BenchRun:
    """Open the run, name what it is done with, answer its steps, finish it, sign it."""
    actor = scenario.actor(doing.performer)
    sheet = _sheet(scenario, doing.task)
    with frozen(doing.begin):
        key = f"demo-{doing.task.pk}"
        run, _ = open_run(actor=actor, opening=Opening(doing.task.pk, key, doing.begin))
        _take_up(scenario, doing, sheet, run)
    _answer(scenario, doing, sheet, run)
    if doing.steps is not None:
        return run
    run.refresh_from_db()
    assert run.finished_at is not None  # noqa: S101 - finished just before
    _sign(scenario, doing.performer, run, "performed", run.finished_at + timedelta(minutes=5))
    if doing.inspector:
        _sign(scenario, doing.inspector, run, "inspected", run.finished_at + timedelta(minutes=21))
    return run


def _sheet(scenario: Scenario, task: Task) -> Sheet:
    assert task.procedure is not None  # noqa: S101 - work that is run step by step follows one
    version = current_version(scenario.operator.pk, task.procedure.code)
    return sheet_of(scenario.aircraft[task.aircraft.registration], version)


def _take_up(scenario: Scenario, doing: Doing, sheet: Sheet, run: BenchRun) -> None:
    actor, base = scenario.actor(doing.performer), doing.task.aircraft.base.code
    used: set[int] = set()
    for need in sheet.content.equipment_for(sheet.options):
        rows = scenario.equipment[base, need.kind]
        equipment = next((row for row in rows if row.pk not in used), rows[0])
        used.add(equipment.pk)
        use_equipment(actor=actor, run_id=run.pk, role=need.role, equipment_id=equipment.pk)
    if sheet.content.fluid is not None:
        lot = lot_on(scenario, base, 0)
        amount = str(sheet.content.fluid.minimum + 4)
        use_lot(actor=actor, run_id=run.pk, lot_id=lot.pk, amount=amount, unit=sheet.content.fluid.unit)


def _answer(scenario: Scenario, doing: Doing, sheet: Sheet, run: BenchRun) -> None:
    actor = scenario.actor(doing.performer)
    chance = random.Random(f"doing {doing.task.title}")  # noqa: S311 - invents, guards nothing
    answered = list(Hands(sheet, doing.begin, doing.flow, chance).answers())[: doing.steps]
    kinds = {step.key: step.kind for step in sheet.steps}
    for row in answered:
        with frozen(row.at):
            if kinds[row.step] is StepKind.PHOTO:
                content = picture_of(doing.task.aircraft.registration)
                add_photo(actor=actor, run_id=run.pk, new=NewPhoto(row.step, "photo", content, row.at))
            entry = Entry(row.step, f"{run.key}-{row.step}", row.answer, row.at)
            answer_step(actor=actor, run_id=run.pk, entry=entry)
    with frozen(answered[-1].at + timedelta(minutes=1)):
        if doing.steps is None:
            finish_run(actor=actor, run_id=run.pk)
        else:
            pause_run(actor=actor, run_id=run.pk)


def _sign(scenario: Scenario, username: str, run: BenchRun, meaning: str, at: datetime) -> None:
    actor = scenario.actor(username)
    with frozen(at):
        digest = content_to_sign(actor, run.pk).digest
        sign(actor=actor, signing=Signing(run.pk, meaning, digest, "password"))
