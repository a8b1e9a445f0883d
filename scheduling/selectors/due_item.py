"""Due items with every word a reader needs: rows of the list, and one item explained."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from fleet.common.wording import day as day_words
from scheduling.due.engine import paths_of
from scheduling.due.explain import STATUS_WORDS, words_of
from scheduling.due.levels import ALREADY
from scheduling.due.outlook import Outlook
from scheduling.due.terms import (
    Amount,
    AmountUnit,
    DueStatus,
    LimitDue,
    Measure,
    NextDue,
    Point,
    Since,
)
from scheduling.due.wording import MEASURE_NAMES, amount_words, point_words
from scheduling.gather.due import DueItem, due_items
from scheduling.gather.reckoned import Reckoned, order_day, reckon
from scheduling.models import OPEN_STATES, Applicability, Consequence, DueFact, Task, Variation

LEVEL_OF = {
    DueStatus.OVERDUE: "stop",
    DueStatus.DUE: "stop",
    DueStatus.DUE_SOON: "soon",
    DueStatus.UNKNOWN: "unknown",
    DueStatus.OK: "clear",
    DueStatus.COMPLETE: "clear",
}


@dataclass(frozen=True, slots=True)
class DueRow:
    """One item of the due list in words: the same on screen, on paper and for programs."""

    id: int
    registration: str
    subject: str
    place: str
    code: str
    title: str
    ata: str
    consequence: str
    state: str
    level: str
    state_words: str
    words: str
    due_at: str
    due_day: date | None
    projected_day: date | None
    earliest_day: date | None
    latest_day: date | None
    projection: str
    basis: str
    explanation: tuple[str, ...]
    task_id: int | None
    task_title: str
    is_varied: bool
    order_day: int

    @property
    def stops(self) -> str:
        """What it stops when it is overdue."""
        return str(Consequence(self.consequence).label)


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit of an item: how it stands, when it is expected, and what doing the work now would do."""

    path: str
    measure: str
    state_words: str
    level: str
    words: str
    due_at: str
    remaining: int | None
    allowed_to: str
    projection: str
    basis: str
    if_done_now: str
    governs: bool


@dataclass(frozen=True, slots=True)
class DueExplained:
    """One item with everything: its row, its limits, what it rests on, what was granted."""

    row: DueRow
    limits: tuple[LimitRow, ...]
    rule: str
    source: str
    requirement_id: int
    requirement_version: int
    version: int
    last_done: str
    proof: str
    opening_note: str
    variations: tuple[Variation, ...]


def projection_words(outlook: Outlook) -> str:
    """A projected day, never without its interval: "12 Mar 2026 (80 %: 8 Mar 2026 to 20 Mar 2026)"."""
    if outlook.day is None or outlook.earliest is None:
        return f"no date: {outlook.basis}" if outlook.basis else "no date"
    if outlook.is_reached:
        return "now (the limit has been reached)"
    if outlook.is_exact:
        return f"{day_words(outlook.day)} (by the calendar)"
    latest = day_words(outlook.latest) if outlook.latest else "later than can be seen"
    return f"{day_words(outlook.day)} (80 %: {day_words(outlook.earliest)} to {latest})"


def kept_outlook(fact: DueFact) -> Outlook:
    """The outlook as the due list keeps it, without its basis."""
    if fact.projected_day is None:
        return Outlook(None)
    day = date.fromordinal(fact.projected_day)
    earliest = date.fromordinal(fact.earliest_day) if fact.earliest_day else day
    latest = date.fromordinal(fact.latest_day) if fact.latest_day else None
    is_exact, is_reached = earliest == latest == day, fact.reached_day == ALREADY
    return Outlook(day, earliest, latest, is_exact=is_exact, is_reached=is_reached)


def due_rows(actor: Actor, ids: Iterable[int]) -> list[DueRow]:
    """These items of the operator, in this order, judged now: a constant number of queries."""
    wanted = list(ids)
    rows = Applicability.objects.filter(pk__in=wanted, requirement__operator_id=actor.operator_id)
    tasks = open_tasks_of(wanted)
    found = {item.id: row_of(reckon(item, with_words=True), tasks) for item in due_items(rows)}
    return [found[pk] for pk in wanted if pk in found]


def page_rows(actor: Actor, ids: Iterable[int], sort: str) -> list[DueRow]:
    """The rows of one page in the order asked for, as they stand now.

    Pages are cut by what was last kept; projections that slipped since are put in order again within the page.
    """
    rows = due_rows(actor, ids)
    is_down = sort.startswith("-")
    if sort.removeprefix("-") == "aircraft":
        return sorted(rows, key=lambda row: (row.registration, row.order_day, row.id), reverse=is_down)
    return sorted(rows, key=lambda row: (row.order_day, row.id), reverse=is_down)


def variation_words(row: Variation) -> str:
    """How far a variation goes: "10:00 h", "1 month"."""
    unit = AmountUnit.MONTHS if row.in_months else AmountUnit.OWN
    return amount_words(Measure(row.measure), Amount(row.amount, unit))


def open_tasks_of(ids: Iterable[int]) -> dict[int, Task]:
    """The open task that answers each item, where there is one."""
    rows = Task.objects.filter(applicability__in=list(ids), state__in=OPEN_STATES)
    return {task.applicability_id: task for task in rows if task.applicability_id}


def row_of(found: Reckoned, tasks: dict[int, Task]) -> DueRow:
    """One judged item as a row."""
    item, result, outlook = found.item, found.result, found.outlook
    governing = result.limit(result.governing)
    task = tasks.get(item.id)
    return DueRow(
        id=item.id,
        registration=item.aircraft.registration if item.aircraft else "",
        subject=item.component.label if item.component else "",
        place=item.place,
        code=item.requirement.code,
        title=item.requirement.title,
        ata=item.requirement.ata,
        consequence=item.requirement.consequence,
        state=result.status.value,
        level=LEVEL_OF[result.status],
        state_words=STATUS_WORDS[result.status],
        words=words_of(governing),
        due_at=_point(governing, governing.due_at),
        due_day=result.due_day,
        projected_day=outlook.day,
        earliest_day=outlook.earliest,
        latest_day=outlook.latest,
        projection=projection_words(outlook),
        basis=outlook.basis,
        explanation=result.explanation,
        task_id=task.pk if task else None,
        task_title=task.title if task else "",
        is_varied=any(due.variation is not None for due in result.limits),
        order_day=order_day(found.levels, outlook),
    )


def _point(due: LimitDue, point: Point | None) -> str:
    return "" if point is None else point_words(due.limit.measure, point)


def due_item_for(actor: Actor, applicability_id: int) -> DueItem:
    """One item with its facts; a stranger's is not found."""
    rows = Applicability.objects.filter(pk=applicability_id, requirement__operator_id=actor.operator_id)
    items = due_items(rows)
    if not items:
        raise NotFound("due_item_not_found", "There is no such due item here.")
    return items[0]


def explain_due(actor: Actor, applicability_id: int) -> DueExplained:
    """One item, why it is due when it is, and what would change it."""
    item = due_item_for(actor, applicability_id)
    found = reckon(item, with_words=True)
    steps = {step.path: step for step in found.result.if_done_now}
    limits = tuple(
        _limit_row(due, outlook, steps.get(due.path), found.result.governing)
        for due, outlook in zip(found.result.limits, found.outlooks, strict=True)
    )
    return DueExplained(
        row=row_of(found, open_tasks_of([item.id])),
        limits=limits,
        rule=found.result.rule,
        source=item.requirement.source,
        requirement_id=item.requirement.id,
        requirement_version=item.requirement.version,
        version=item.version,
        last_done=last_done_words(item),
        proof=item.proof,
        opening_note=item.opening_note,
        variations=tuple(
            Variation.objects.filter(applicability_id=item.id)
            .select_related("granted_by")
            .order_by("-granted_at")
        ),
    )


def _limit_row(due: LimitDue, outlook: Outlook, step: NextDue | None, governing: str) -> LimitRow:
    return LimitRow(
        path=due.path,
        measure=MEASURE_NAMES[due.limit.measure],
        state_words=STATUS_WORDS[due.status],
        level=LEVEL_OF[due.status],
        words=due.words or words_of(due),
        due_at=_point(due, due.due_at),
        remaining=due.remaining,
        allowed_to=_point(due, due.allowed_to),
        projection=projection_words(outlook),
        basis=outlook.basis,
        if_done_now=step.words if step else "",
        governs=due.path == governing,
    )


def last_done_words(item: DueItem) -> str:
    """When it was last done and what the counters showed: "3 Feb 2026 at 1 200:00 h, 1 800 landings"."""
    done = item.facts.marks.get(Since.LAST_DONE)
    if done is None:
        return ""
    measures = {limit.measure for _, limit in paths_of(item.requirement.limits)}
    shown = [
        point_words(measure, done.counters[measure.value])
        for measure in sorted(measures)
        if measure.value in done.counters
    ]
    day = day_words(done.day) if done.day else "on a day not recorded"
    return f"{day} at {', '.join(shown)}" if shown else day
