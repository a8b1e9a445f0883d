"""Reads about trends: what each aircraft's tests say, and the data of one chart with its table."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from fleet.selectors.aircraft import aircraft_for
from records.gather.series import Watched, bounds_of, current_content, watched_of
from records.gather.trending import Trend, trend_of
from records.judge.terms import display_decimal
from records.models import TrendState
from scheduling.limits.kinds import describe


@dataclass(frozen=True, slots=True)
class TrendQuery:
    """Which trends are wanted; empty means all."""

    registration: str = ""
    procedure_code: str = ""
    only_alarms: bool = False


ALL = TrendQuery()


def trend_states(actor: Actor, query: TrendQuery = ALL) -> QuerySet[TrendState]:
    """What every watched channel last said, by aircraft."""
    rows = TrendState.objects.filter(aircraft__operator_id=actor.operator_id)
    if query.registration:
        rows = rows.filter(aircraft__registration__iexact=query.registration)
    if query.procedure_code:
        rows = rows.filter(procedure_code=query.procedure_code)
    if query.only_alarms:
        rows = rows.filter(alarmed_run__isnull=False)
    rows = rows.select_related("aircraft__aircraft_type", "alarmed_run__record")
    return rows.order_by("aircraft__registration", "procedure_code", "point", "channel", "id")


def trend_for(actor: Actor, registration: str, procedure_code: str, point: str) -> Trend:
    """One trend by any of its points; a stranger's aircraft or an unknown point is not found."""
    aircraft = aircraft_for(actor, registration)
    for watched in watched_by(actor, procedure_code):
        if watched.holds(point):
            return trend_of(aircraft, procedure_code, watched)
    raise NotFound("trend_not_found", f"Nothing called {point} is watched in {procedure_code}.")


def watched_by(actor: Actor, procedure_code: str) -> tuple[Watched, ...]:
    """What a procedure watches."""
    content = current_content(actor.operator_id, procedure_code)
    if content is None:
        raise NotFound("procedure_not_found", f"There is no procedure {procedure_code} here.")
    return watched_of(content)


@dataclass(frozen=True, slots=True)
class Line:
    """One point's readings for a chart: days, values in the point's unit, and its limits."""

    key: str
    name: str
    unit: str
    side: str
    allowed: str
    low: float | None
    high: float | None
    readings: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """One reading on a chart and in its table; `written` is the exact value as text."""

    record: str
    day: str
    value: float
    written: str
    percent: float
    verdict: str
    run_verdict: str
    is_charted: bool
    reason: str


def lines_of(trend: Trend) -> tuple[Line, ...]:
    """The readings of every point of a trend, oldest first, with the limits in force."""
    return tuple(_line(trend, index) for index in range(len(trend.watched.points)))


def _line(trend: Trend, index: int) -> Line:
    point = trend.watched.points[index]
    low, high = bounds_of(point)
    return Line(
        key=point.key,
        name=point.name,
        unit=point.unit,
        side=point.side,
        allowed=describe(point.limit),
        low=None if low is None else float(low),
        high=None if high is None else float(high),
        readings=tuple(_marks(trend, point.key)),
    )


def _marks(trend: Trend, key: str) -> Iterable[Mark]:
    for test in trend.tests:
        taken = test.readings.get(key)
        if taken is not None:
            yield Mark(
                record=test.record,
                day=test.day.isoformat(),
                value=float(taken.value),
                written=f"{display_decimal(taken.value):f}",
                percent=round(taken.percent, 2),
                verdict=taken.verdict,
                run_verdict=test.verdict,
                is_charted=test.is_evidence,
                reason=taken.reason,
            )
