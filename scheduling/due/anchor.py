"""Where an interval starts counting and how far a limit may be stretched. Pure.

The rules disagree with each other, so each is data on the limit: 14 CFR 91.409(b) counts from the due
point after an overrun, ML.A.302(d)(1) from the time of the work, TM 1-1500-328-23 from the due point
inside a window.
"""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

from scheduling.due.calendar import add_days, add_months
from scheduling.due.terms import (
    Amount,
    AmountUnit,
    Anchor,
    LastDue,
    Limit,
    LimitDue,
    Measure,
    MonthRule,
    Point,
    Variation,
)

DAYS_OF_A_MONTH = 30


def distance(start: Point, end: Point) -> int:
    """From one point to another in own units or days: 1300:00 to 1304:30 is 270 minutes."""
    if isinstance(start, date) and isinstance(end, date):
        return (end - start).days
    if isinstance(start, date) or isinstance(end, date):
        raise TypeError("a day and a counter cannot be compared")
    return end - start


def interval_in_units(limit: Limit) -> int | None:
    """The repeat interval in own units, a month as 30 days; None where the limit has no interval."""
    if not isinstance(limit.interval, int):
        return None
    return limit.interval * DAYS_OF_A_MONTH if limit.measure is Measure.MONTHS else limit.interval


def window_of(limit: Limit) -> int:
    """Half the width of the window, rounded down: 10 % of 14 days is 1 day, of 75 h capped at 5 h is 5 h."""
    size = interval_in_units(limit)
    if limit.window is None or size is None:
        return 0
    width = int(Fraction(size) * limit.window.percent / 100)
    return width if limit.window.cap is None else min(width, limit.window.cap)


def counted_from(limit: Limit, last_due: LastDue | None, done: Point) -> tuple[Point, date | None]:
    """The point the next interval is added to, and the day its months are counted from.

    Due 1300:00, done 1304:30: from due gives 1300:00, from done gives 1304:30. Done early, only the
    window rule still counts from the due point.
    """
    if last_due is None or isinstance(last_due.at, date) is not isinstance(done, date):
        return done, None
    late = distance(last_due.at, done)
    from_due = (
        (limit.anchor is Anchor.FROM_DUE and late >= 0)
        or (limit.anchor is Anchor.FROM_DUE_IF_EXTENDED and late > 0 and last_due.extended)
        or (limit.anchor is Anchor.WINDOW and abs(late) <= window_of(limit))
    )
    return (last_due.at, last_due.anchor) if from_due else (done, None)


def shifted(limit: Limit, due_at: Point, amount: Amount) -> Point:
    """The point moved by an amount: 31 March 2026 and one month, ends of months, is 30 April 2026."""
    if not isinstance(due_at, date):
        return due_at + amount.value
    if amount.unit is AmountUnit.MONTHS:
        rule = limit.month_rule if limit.measure is Measure.MONTHS else MonthRule.SAME_DAY
        return add_months(due_at, amount.value, rule)
    return add_days(due_at, amount.value)


def variation_granted(path: str, due_at: Point, granted: tuple[Variation, ...]) -> Variation | None:
    """The variation granted for this limit and this very due point; one granted for an earlier due is
    spent."""
    return next((v for v in granted if v.path == path and v.for_due == due_at), None)


def allowed_to(limit: Limit, due_at: Point, variation: Variation | None, *, en_route: bool) -> Point:
    """The last lawful point. Variation and overrun do not add up: the further of the two counts.

    Due 1300:00 with ten hours en route only: 1310:00 when en route, 1300:00 otherwise.
    """
    points = [due_at]
    if variation is not None:
        points.append(shifted(limit, due_at, variation.amount))
    if limit.overrun is not None and (en_route or not limit.overrun.en_route_only):
        points.append(shifted(limit, due_at, limit.overrun.allowed))
    return max(points, key=lambda point: distance(due_at, point))


def window_edges(due: LimitDue) -> tuple[Point, Point] | None:
    """Both edges of the window around a due point, or None without one: 1609:24 ± 5 h is 1604:24 and
    1614:24."""
    if due.limit.window is None or due.due_at is None:
        return None
    half = window_of(due.limit)
    if isinstance(due.due_at, date):
        return due.due_at - timedelta(days=half), due.due_at + timedelta(days=half)
    return due.due_at - half, due.due_at + half
