"""When a whole requirement will probably fall due: its limits' days and projections, joined. Pure.

A day never stands without its interval; a limit by the calendar has an interval of one day.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from scheduling.due.flying_plan import FlyingPlan
from scheduling.due.forecast import NoDate, Remaining, project
from scheduling.due.forecast_errors import ForecastErrors
from scheduling.due.terms import CALENDAR, Combine, DueStatus, Limit, LimitDue, Limits
from scheduling.due.use import Rate


@dataclass(frozen=True, slots=True)
class Outlook:
    """The probable day, in four of five cases between `earliest` and `latest` (None: not in sight).

    `day` None: no day can be given, and `basis` says why. `is_exact`: the calendar alone decides. `is_reached`: a
    counter has come to its limit already, and the day is that of asking.
    """

    day: date | None
    earliest: date | None = None
    latest: date | None = None
    basis: str = ""
    is_exact: bool = False
    is_complete: bool = False
    is_reached: bool = False


@dataclass(frozen=True, slots=True)
class UseAhead:
    """What a projection is made with."""

    rate: Rate
    errors: ForecastErrors
    plan: FlyingPlan | None = None


def limit_outlook(due: LimitDue, use: UseAhead, today: date) -> Outlook:
    """One limit: its day of the calendar, or the projection of its counter."""
    if due.status is DueStatus.COMPLETE:
        return Outlook(None, basis="nothing is left to do", is_complete=True)
    if due.due_at is None or due.remaining is None:
        return Outlook(None, basis="not known when it was last done")
    if due.limit.measure in CALENDAR and isinstance(due.due_at, date):
        return Outlook(due.due_at, due.due_at, due.due_at, "by the calendar", is_exact=True)
    found = project(Remaining(due.remaining, due.limit.measure), use.rate, use.errors, today, use.plan)
    if isinstance(found, NoDate):
        return Outlook(None, basis=found.reason)
    is_reached = due.remaining <= 0
    return Outlook(found.day, found.earliest, found.latest, found.basis, is_reached=is_reached)


def outlook_of(limits: Limits, outlooks: Iterable[Outlook]) -> Outlook:
    """The whole requirement from its limits' outlooks, in the order of their paths.

    Whichever first: 31 March by the calendar and 12 March (8 to 20) by hours give 12 March, 8 to 20 March.
    Whichever last: no day as long as one of them has none.
    """
    return _joined(limits, iter(outlooks))


def _joined(limits: Limits, outlooks: Iterator[Outlook]) -> Outlook:
    if isinstance(limits, Limit):
        return next(outlooks)
    members = [_joined(member, outlooks) for member in limits.members]
    alive = [one for one in members if not one.is_complete] or members
    if limits.combine is Combine.FIRST:
        return _first(alive)
    return _last(alive)


def _first(members: list[Outlook]) -> Outlook:
    dated = [one for one in members if one.day is not None]
    if not dated:
        return members[0]
    decides = min(dated, key=_day)
    latest = min((one.latest for one in dated if one.latest is not None), default=None)
    earliest = min(one.earliest or _day(one) for one in dated)
    is_exact = decides.is_exact and earliest == decides.day
    return Outlook(decides.day, earliest, latest, decides.basis, is_exact, is_reached=decides.is_reached)


def _last(members: list[Outlook]) -> Outlook:
    without = [one for one in members if one.day is None]
    if without:
        return without[0]
    decides = max(members, key=_day)
    ends = [one.latest for one in members]
    known = [end for end in ends if end is not None]
    latest = max(known) if len(known) == len(ends) else None
    earliest = max(one.earliest or _day(one) for one in members)
    is_exact = decides.is_exact and latest == decides.day
    is_reached = all(one.is_reached for one in members)
    return Outlook(decides.day, earliest, latest, decides.basis, is_exact, is_reached=is_reached)


def _day(outlook: Outlook) -> date:
    return outlook.day or date.max
