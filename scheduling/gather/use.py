"""Rows into what forecasts read: the measured use a day, the fleet's forecast errors, flying plans."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from fleet.models import Aircraft, FlightDay
from scheduling.due.flying_plan import FlyingPlan, PlannedUse, flying_plan
from scheduling.due.forecast_errors import LOOK_BACK_DAYS, ErrorBand, ForecastErrors
from scheduling.due.terms import Measure
from scheduling.due.use import WINDOW_DAYS, DayUse, PerDay, Rate, Regularity, UseHistory, use_history
from scheduling.models import AircraftUse, TypeUse
from scheduling.models import FlyingPlan as FlyingPlanRow

FOLLOWED_DAYS = WINDOW_DAYS + LOOK_BACK_DAYS


@dataclass(frozen=True, slots=True)
class UseFacts:
    """What a projection is made from: the rate, the fleet's errors, and what is planned."""

    rate: Rate
    errors: ForecastErrors
    plan: FlyingPlan | None = None


UNMEASURED = UseFacts(Rate({}, {}, None, 0, Regularity.RARE), ForecastErrors())


def rate_to_data(rate: Rate) -> dict[str, Any]:
    """A rate as plain data: thousandths a day by measure, and what it was made of."""
    return {
        "used": _per_day_to_data(rate.used),
        "own": _per_day_to_data(rate.own),
        "fleet": None if rate.fleet is None else _per_day_to_data(rate.fleet),
        "history_days": rate.history_days,
        "regularity": rate.regularity.value,
    }


def rate_from_data(data: Mapping[str, Any]) -> Rate:
    """Read back what `rate_to_data` wrote; nothing measured yet gives a rate of nothing."""
    if not data:
        return UNMEASURED.rate
    fleet = data["fleet"]
    return Rate(
        used=_per_day_from_data(data["used"]),
        own=_per_day_from_data(data["own"]),
        fleet=None if fleet is None else _per_day_from_data(fleet),
        history_days=data["history_days"],
        regularity=Regularity(data["regularity"]),
    )


def _per_day_to_data(per_day: PerDay) -> dict[str, int]:
    return {measure.value: amount for measure, amount in per_day.items()}


def _per_day_from_data(data: Mapping[str, int]) -> dict[Measure, int]:
    return {Measure(name): amount for name, amount in data.items()}


def errors_to_data(errors: ForecastErrors) -> list[list[Any]]:
    """Forecast errors as plain data: measure, regularity (empty: all together), bands."""
    return [
        [measure.value, regularity.value if regularity else "", [_band_to_data(one) for one in bands]]
        for (measure, regularity), bands in errors.bands.items()
    ]


def _band_to_data(band: ErrorBand) -> list[float | int | None]:
    return [band.horizon, band.low, band.high, band.closed, band.still_open]


def errors_from_data(data: Iterable[list[Any]]) -> ForecastErrors:
    """Read back what `errors_to_data` wrote."""
    return ForecastErrors({
        (Measure(measure), Regularity(regularity) if regularity else None): tuple(ErrorBand(*one) for one in bands)
        for measure, regularity, bands in data
    })  # fmt: skip


def use_facts(aircraft_types: Mapping[int, int]) -> dict[int, UseFacts]:
    """Measured use of several aircraft (id to type id), errors of their types, plans: three queries."""
    kinds = set(aircraft_types.values())
    errors = {row.pk: errors_from_data(row.bands) for row in TypeUse.objects.filter(pk__in=kinds)}
    plans = plans_of(aircraft_types)
    rates = {
        row.pk: rate_from_data(row.rate) for row in AircraftUse.objects.filter(pk__in=list(aircraft_types))
    }
    return {
        pk: UseFacts(rates.get(pk, UNMEASURED.rate), errors.get(kind, UNMEASURED.errors), plans.get(pk))
        for pk, kind in aircraft_types.items()
    }


def plans_of(aircraft_ids: Iterable[int]) -> dict[int, FlyingPlan]:
    """What the controller plans to fly, by aircraft; one without a plan is left out."""
    found: dict[int, list[PlannedUse]] = defaultdict(list)
    for row in FlyingPlanRow.objects.filter(aircraft_id__in=list(aircraft_ids)):
        found[row.aircraft_id].append(planned_use(row))
    return {pk: flying_plan(ranges) for pk, ranges in found.items()}


def planned_use(row: FlyingPlanRow) -> PlannedUse:
    """One stored stretch as the forecast reads it; landings are rounded to whole ones a day."""
    return PlannedUse(row.from_day, row.to_day, row.minutes_per_day, round(row.landings_per_day))


def histories_of_type(aircraft_type_id: int, today: date) -> dict[int, UseHistory]:
    """Every aircraft of a type that still flies, with its days since it is followed: two queries."""
    # in one order everywhere: what is measured is written in this one, beside flights that write it, too
    flying = Aircraft.objects.filter(aircraft_type_id=aircraft_type_id, withdrawn_on=None).order_by("pk")
    ids = list(flying.values_list("pk", flat=True))
    since = today - timedelta(days=FOLLOWED_DAYS)
    days: dict[int, dict[date, DayUse]] = {pk: {} for pk in ids}
    rows = FlightDay.objects.filter(aircraft__in=ids, day__gte=since)
    for pk, day, minutes, landings, cycles in rows.values_list(
        "aircraft_id", "day", "minutes", "landings", "cycles"
    ):
        days[pk][day] = DayUse(minutes, landings, cycles)
    first_days = _first_days(ids, since)
    return {pk: use_history(days[pk], first_days.get(pk, today), today) for pk in ids}


def _first_days(aircraft_ids: list[int], since: date) -> dict[int, date]:
    """From when each aircraft is followed: its first flight day here, at most as far back as is looked."""
    rows = (
        FlightDay.objects.filter(aircraft__in=aircraft_ids)
        .order_by("aircraft_id", "day")
        .values_list("aircraft_id", "day")
    )
    found: dict[int, date] = {}
    for pk, day in rows.iterator():
        found.setdefault(pk, max(day, since))
    return found
