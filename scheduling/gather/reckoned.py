"""What the engine and the forecast say about one item, and the columns of the due list that follow from it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from scheduling.due.anchor import distance
from scheduling.due.engine import bare_due_of, due_of
from scheduling.due.judged import warning_of
from scheduling.due.levels import ALREADY, NOTHING_LEFT, Levels, levels_of, order_of
from scheduling.due.outlook import Outlook, UseAhead, limit_outlook, outlook_of
from scheduling.due.terms import Combine, DueResult, Limit, LimitDue, Limits, Measure
from scheduling.gather.due import DueItem
from scheduling.models import DueFact

COLUMN_OF = {Measure.HOURS: "minutes", Measure.LANDINGS: "landings", Measure.CYCLES: "cycles"}
PLAIN = frozenset({Measure.DAYS, Measure.MONTHS, Measure.DATE, Measure.SEASON, *COLUMN_OF})


@dataclass(frozen=True, slots=True)
class Reckoned:
    """One item judged: how it stands, from which days on worse, and when it will probably fall due."""

    item: DueItem
    result: DueResult
    levels: Levels
    outlook: Outlook
    outlooks: tuple[Outlook, ...]


def reckon(item: DueItem, *, with_words: bool = False) -> Reckoned:
    """Judge one item; with words only where somebody will read them."""
    limits = item.requirement.limits
    result = (due_of if with_words else bare_due_of)(limits, item.facts)
    use = UseAhead(item.use.rate, item.use.errors, item.use.plan)
    outlooks = tuple(limit_outlook(due, use, item.facts.today) for due in result.limits)
    return Reckoned(
        item, result, levels_of(limits, result.limits, item.facts), outlook_of(limits, outlooks), outlooks
    )


def fact_of(reckoned: Reckoned, moment: datetime) -> DueFact:
    """The row of the due list for one judged item, not yet saved."""
    item, result, levels, outlook = reckoned.item, reckoned.result, reckoned.levels, reckoned.outlook
    aircraft = item.aircraft
    fact = DueFact(
        applicability_id=item.id,
        operator_id=item.operator_id,
        aircraft_id=aircraft.id if aircraft else None,
        aircraft_type_id=aircraft.type_id if aircraft else None,
        base_id=aircraft.base_id if aircraft else None,
        registration=aircraft.registration if aircraft else "",
        code=item.requirement.code,
        title=item.requirement.title,
        subject=item.component.label if item.component else "",
        consequence=item.requirement.consequence,
        ata=item.requirement.ata,
        due_day=_ordinal(result.due_day),
        lawful_day=_ordinal(result.last_lawful_day),
        is_plain=is_plain(item.requirement.limits),
        soon_day=levels.soon,
        unknown_day=levels.unknown,
        reached_day=levels.reached,
        overdue_day=levels.overdue,
        projected_day=_ordinal(outlook.day),
        earliest_day=_ordinal(outlook.earliest),
        latest_day=_ordinal(outlook.latest),
        order_day=order_day(levels, outlook),
        is_counter_overdue=levels.overdue == ALREADY,
        is_known=levels.unknown != ALREADY or levels.reached == ALREADY,
        computed_at=moment,
    )
    if aircraft is not None:
        _put_counters(fact, reckoned)
    return fact


def _put_counters(fact: DueFact, reckoned: Reckoned) -> None:
    """Where counters fall due, in what the aircraft's own counters will show then; the nearest of a kind."""
    assert reckoned.item.aircraft is not None  # noqa: S101 - asked only where the item flies
    shown = reckoned.item.aircraft.now.counters
    for measure, column in COLUMN_OF.items():
        due = nearest(reckoned.result.limits, measure)
        if due is None or due.remaining is None or due.due_at is None or due.allowed_to is None:
            continue
        at = shown[measure.value] + due.remaining
        setattr(fact, f"due_{column}", at)
        setattr(fact, f"soon_{column}", at - warning_of(due, reckoned.item.facts))
        setattr(fact, f"lawful_{column}", at + distance(due.due_at, due.allowed_to))


def nearest(dues: Iterable[LimitDue], measure: Measure) -> LimitDue | None:
    """Of the limits of one measure the one with least left; None where none of them is known."""
    known = [due for due in dues if due.limit.measure is measure and due.remaining is not None]
    return min(known, key=lambda due: due.remaining or 0, default=None)


def is_plain(limits: Limits) -> bool:
    """Whichever first with at most one limit of a counter: then the columns of a row say all there is."""
    members = limits.members if not isinstance(limits, Limit) else (limits,)
    if not isinstance(limits, Limit) and limits.combine is Combine.LAST and len(members) > 1:
        return False
    if not all(isinstance(one, Limit) and one.measure in PLAIN for one in members):
        return False
    counted = [one.measure for one in members if isinstance(one, Limit) and one.measure in COLUMN_OF]
    return len(counted) == len(set(counted))


def order_day(levels: Levels, outlook: Outlook) -> int:
    """The day that sorts the due list: what has come by its counters first, what is not known next, then by day."""
    if levels.is_complete:
        return NOTHING_LEFT
    return order_of(levels.reached, levels.unknown, _ordinal(outlook.day))


def _ordinal(day: date | None) -> int | None:
    return day.toordinal() if day else None
