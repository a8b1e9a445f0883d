"""How much an aircraft is used a day: its own last 90 days, leaned towards the fleet of its type. Pure.

Floats serve the estimate only; a rate leaves here as whole thousandths a day, so that every projection made
with the same rate gives the same day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction

from scheduling.due.terms import Measure

WINDOW_DAYS = 90
"""How far back the own rate looks."""

LEAN_DAYS = 22.5
"""Days of own history that weigh as much as the fleet; at 90 days this leaves the fleet one fifth."""

FLOWN = (Measure.HOURS, Measure.LANDINGS, Measure.CYCLES, Measure.FLIGHT_DAYS)
"""What flying uses up; hours are whole minutes."""


REGULAR_SHARE = 0.5
OCCASIONAL_SHARE = 0.2


class Regularity(StrEnum):
    """How steadily an aircraft flies: on at least half, on at least a fifth, or on fewer of its last 90 days."""

    REGULAR = "regular"
    OCCASIONAL = "occasional"
    RARE = "rare"


@dataclass(frozen=True, slots=True)
class DayUse:
    """What one day used: flight minutes, landings, engine cycles."""

    minutes: int = 0
    landings: int = 0
    cycles: int = 0


NOTHING = DayUse()


@dataclass(frozen=True, slots=True)
class UseHistory:
    """Every whole day of one aircraft since it is followed, oldest first; days without flying are zeros.

    `daily[measure][i]` belongs to `first_day + i`; all rows are `length` long.
    """

    first_day: date
    length: int
    daily: Mapping[Measure, tuple[int, ...]]

    def days_before(self, day: date) -> int:
        """How many followed days lie before `day`: first day 1 March, `day` 4 March gives 3."""
        return max(0, min(self.length, (day - self.first_day).days))


def use_history(days: Mapping[date, DayUse], first_day: date, today: date) -> UseHistory:
    """Fill the gaps with zeros, from `first_day` up to yesterday; today is not over and does not count.

    One day of 90 minutes on 2 March, followed since 1 March, seen on 4 March: hours (0, 90, 0).
    """
    length = max(0, (today - first_day).days)
    rows = [days.get(first_day + timedelta(days=offset), NOTHING) for offset in range(length)]
    daily = {
        Measure.HOURS: tuple(row.minutes for row in rows),
        Measure.LANDINGS: tuple(row.landings for row in rows),
        Measure.CYCLES: tuple(row.cycles for row in rows),
        Measure.FLIGHT_DAYS: tuple(int(row.minutes > 0) for row in rows),
    }
    return UseHistory(first_day, length, daily)


PerDay = Mapping[Measure, int]
"""Use a day in whole thousandths of the measure's own unit: 185 minutes a day is `{Measure.HOURS: 185_000}`."""


@dataclass(frozen=True, slots=True)
class FleetRates:
    """The mean use a day of a type's aircraft that moved: of those that fly as steadily, and of all."""

    by_regularity: Mapping[Regularity, PerDay] = field(default_factory=dict)
    every: PerDay | None = None


@dataclass(frozen=True, slots=True)
class Rate:
    """The rate to reckon with, and what it was made of; `fleet` is None where no such aircraft moved."""

    used: PerDay
    own: PerDay
    fleet: PerDay | None
    history_days: int
    regularity: Regularity

    def own_percent(self) -> int:
        """How much the own history weighs, in whole percent: 90 days give 80."""
        return 100 if self.fleet is None else round(100 * own_weight(self.history_days))

    def per_day(self) -> dict[str, Fraction]:
        """The rate as the due engine takes it: 185 minutes a day is `{"hours": Fraction(185)}`."""
        return {measure.value: Fraction(amount, 1000) for measure, amount in self.used.items()}


def own_weight(history_days: int) -> float:
    """The weight of own history: 90 days give 0.8, 30 days 0.571…, none 0."""
    return history_days / (history_days + LEAN_DAYS)


def blend(own: float, fleet: float | None, history_days: int) -> float:
    """Lean an own rate towards the fleet's: `blend(100.0, 50.0, 90)` is 90.0. Known to stand still stays 0."""
    if not fleet or (history_days and not own):
        return own
    weight = own_weight(history_days)
    return weight * own + (1 - weight) * fleet


def regularity_for(share_of_days: float) -> Regularity:
    """The class of an aircraft that flew on that share of its days: 0.5 is regular, 0.2 occasional."""
    if share_of_days >= REGULAR_SHARE:
        return Regularity.REGULAR
    return Regularity.OCCASIONAL if share_of_days >= OCCASIONAL_SHARE else Regularity.RARE


def _own_rates(history: UseHistory, today: date) -> dict[Measure, float]:
    end = history.days_before(today)
    start = max(0, end - WINDOW_DAYS)
    return {
        measure: sum(history.daily[measure][start:end]) / (end - start) if end > start else 0.0
        for measure in FLOWN
    }


def fleet_rates(histories: Iterable[UseHistory], today: date) -> FleetRates:
    """The mean daily use of a type's aircraft that moved in their last 90 days, whole and by regularity.

    Two at 100 and 200 minutes every day and one that stands: 150 minutes, `{HOURS: 150_000, ...}`.
    """
    moved = [rates for history in histories if any((rates := _own_rates(history, today)).values())]
    groups: dict[Regularity, list[dict[Measure, float]]] = {}
    for rates in moved:
        groups.setdefault(regularity_for(rates[Measure.FLIGHT_DAYS]), []).append(rates)
    means = {regularity: _mean(members) for regularity, members in groups.items()}
    return FleetRates(means, _mean(moved) if moved else None)


def rate(history: UseHistory, fleet: FleetRates, today: date) -> Rate:
    """The rate of one aircraft: own last 90 days weighed n / (n + 22.5), the rest those that fly as steadily.

    90 days of history at 100 minutes a day beside a fleet at 50 give 90 minutes a day. No history at all takes
    the rate of the whole type; a history without any use gives zero whatever the fleet does.
    """
    days = min(WINDOW_DAYS, history.days_before(today))
    own = _own_rates(history, today)
    regularity = regularity_for(own[Measure.FLIGHT_DAYS])
    others = fleet.by_regularity.get(regularity) if days else fleet.every
    used = {measure: blend(own[measure], (others or {}).get(measure, 0) / 1000, days) for measure in FLOWN}
    return Rate(_rounded(used), _rounded(own), others, days, regularity)


def _mean(members: Sequence[Mapping[Measure, float]]) -> PerDay:
    return _rounded({measure: sum(rates[measure] for rates in members) / len(members) for measure in FLOWN})


def _rounded(rates: Mapping[Measure, float]) -> PerDay:
    return {measure: round(per_day * 1000) for measure, per_day in rates.items()}
