"""What if: the due list reckoned again under another use or another day of work. Nothing is saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Any

from fleet.common.actor import Actor
from fleet.common.errors import wrong
from fleet.common.wording import day as day_words
from fleet.selectors.aircraft import aircraft_for
from scheduling.due.engine import next_after
from scheduling.due.explain import STATUS_WORDS
from scheduling.due.flying_plan import flies_every_day, stretches
from scheduling.due.parse import limits_from_data
from scheduling.due.terms import Mark, Measure
from scheduling.due.what_if import if_limits
from scheduling.gather.due import DueItem, due_items, items_on
from scheduling.gather.reckoned import Reckoned, reckon
from scheduling.selectors.due_item import due_item_for, projection_words

_wrong = partial(wrong, code="bad_question")

FURTHEST_DAYS = 3660
MOST_MINUTES = 1440


@dataclass(frozen=True, slots=True)
class Change:
    """One item before and after: both projections with their intervals, and how many days it moves."""

    id: int
    code: str
    title: str
    subject: str
    before: str
    after: str
    day_before: date | None
    day_after: date | None
    state_after: str
    moved_days: int | None

    @property
    def moved_words(self) -> str:
        """How it moves: "5 days earlier"."""
        if self.moved_days is None:
            return (
                ""
                if self.day_before == self.day_after
                else "a date appears"
                if self.day_after
                else "no date any more"
            )
        if self.moved_days == 0:
            return "unchanged"
        days = abs(self.moved_days)
        return f"{days} {'day' if days == 1 else 'days'} {'later' if self.moved_days > 0 else 'earlier'}"


@dataclass(frozen=True, slots=True)
class WhatIfList:
    """The due list of one aircraft as it would be, most urgent first, and the question in words."""

    question: str
    changes: tuple[Change, ...]
    steps: tuple[str, ...] = ()
    warning: str = ""


def if_flies(actor: Actor, registration: str, minutes: int, landings: int | None = None) -> WhatIfList:
    """The due list of an aircraft if it flies so many minutes every day from today on."""
    aircraft = aircraft_for(actor, registration)
    if not 0 <= minutes <= MOST_MINUTES:
        raise _wrong("minutes", str(minutes), "is not a day's flying", "write 0 to 1440 minutes a day")
    if landings is not None and not 0 <= landings <= 200:
        raise _wrong(
            "landings", str(landings), "is not a day's landings", "write 0 to 200, or leave it empty"
        )
    changes = []
    for item in due_items(items_on([aircraft.pk])):
        plan = flies_every_day(minutes, item.facts.today, landings)
        instead = replace(item, use=replace(item.use, plan=plan))
        changes.append(_change(reckon(item), reckon(instead)))
    hours = f"{minutes // 60}:{minutes % 60:02d} h"
    more = "" if landings is None else f" with {landings} landings"
    return WhatIfList(
        f"If {aircraft.registration} flies {hours} a day{more} from today on", _in_order(changes)
    )


def if_done_on(actor: Actor, applicability_id: int, day: date) -> WhatIfList:
    """The due list of the item's aircraft if this item is done on a day to come, at the use expected until then."""
    item = due_item_for(actor, applicability_id)
    ahead = (day - item.facts.today).days
    if not 0 <= ahead <= FURTHEST_DAYS:
        remedy = f"write a day from {day_words(item.facts.today)} on, at most ten years ahead"
        raise _wrong("day", day.isoformat(), "is not a day to come", remedy)
    then = replace(item.facts, today=day, now=Mark(day, counters_on(item, day)))
    result = next_after(item.requirement.limits, then, then.now)
    after = reckon(replace(item, facts=result.facts))
    changes = [_change(reckon(item), after)]
    if item.aircraft is not None:
        others = (one for one in due_items(items_on([item.aircraft.id])) if one.id != item.id)
        changes += [_unchanged(reckon(one)) for one in others]
    warning = "Doing it then breaks a limit: it would be late." if result.is_violation else ""
    question = f"If {item.requirement.title} on {item.subject} is done on {day_words(day)}"
    return WhatIfList(question, _in_order(changes), tuple(step.words for step in result.limits), warning)


def if_limits_were(actor: Actor, applicability_id: int, limits: Mapping[str, Any]) -> WhatIfList:
    """What a change of the programme would do to one item."""
    item = due_item_for(actor, applicability_id)
    instead = limits_from_data(limits, component=item.component is not None)
    outcome = if_limits(item.requirement.limits, instead, item.facts, {})
    facts = replace(item.facts, last_due={}, variations=())
    after = reckon(replace(item, requirement=replace(item.requirement, limits=instead), facts=facts))
    question = f"If the limits of {item.requirement.title} were {outcome.after.rule}"
    return WhatIfList(question, (_change(reckon(item), after),), outcome.after.explanation)


def counters_on(item: DueItem, day: date) -> dict[str, int]:
    """What the subject's counters will show on a day at the expected use, whole units rounded down."""
    ahead = (day - item.facts.today).days
    counters = dict(item.facts.now.counters)
    for name in counters:
        pieces = stretches(item.use.plan, Measure(name), item.use.rate, item.facts.today)
        used = 0
        for piece in pieces:
            end = ahead if piece.end is None else min(piece.end, ahead)
            used += max(0, end - piece.start) * piece.thousandths
        counters[name] += used // 1000
    return counters


def _change(before: Reckoned, after: Reckoned) -> Change:
    item = before.item
    moved = None
    if before.outlook.day is not None and after.outlook.day is not None:
        moved = (after.outlook.day - before.outlook.day).days
    return Change(
        id=item.id,
        code=item.requirement.code,
        title=item.requirement.title,
        subject=item.subject,
        before=projection_words(before.outlook),
        after=projection_words(after.outlook),
        day_before=before.outlook.day,
        day_after=after.outlook.day,
        state_after=STATUS_WORDS[after.result.status],
        moved_days=moved,
    )


def _unchanged(found: Reckoned) -> Change:
    return _change(found, found)


def _in_order(changes: list[Change]) -> tuple[Change, ...]:
    return tuple(sorted(changes, key=lambda one: (one.day_after or date.max, one.code, one.id)))
