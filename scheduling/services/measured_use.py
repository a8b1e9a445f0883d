"""Measure how much aircraft fly and how far forecasts missed, once a day and type; projections read the result."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db import transaction

from fleet.models import AircraftType
from scheduling.due.forecast_errors import forecast_errors
from scheduling.due.use import fleet_rates, rate
from scheduling.gather.use import errors_to_data, histories_of_type, rate_to_data
from scheduling.models import AircraftUse, TypeUse


def measure_use(today: date, *, operator_id: int | None = None, again: bool = False) -> list[int]:
    """Measure every type not yet measured today; returns the aircraft that had no rate before."""
    types = AircraftType.objects.all()
    if operator_id is not None:
        types = types.filter(operator_id=operator_id)
    measured = set(TypeUse.objects.filter(measured_on=today).values_list("pk", flat=True))
    fresh: list[int] = []
    for type_id in types.values_list("pk", flat=True):
        if again or type_id not in measured:
            fresh += measure_type(type_id, today)
    return fresh


@transaction.atomic
def measure_type(aircraft_type_id: int, today: date) -> list[int]:
    """Write the rates of one type's aircraft and the errors of their forecasts, as seen on a day.

    Returns the aircraft that had no rate before: what was reckoned for them had no projection.
    """
    histories = histories_of_type(aircraft_type_id, today)
    errors = forecast_errors(list(histories.values()), today)
    TypeUse.objects.update_or_create(
        aircraft_type_id=aircraft_type_id,
        defaults={"measured_on": today, "bands": errors_to_data(errors)},
    )
    known = set(
        AircraftUse.objects.filter(pk__in=list(histories), measured_on__isnull=False).values_list(
            "pk", flat=True
        )
    )
    fleet = fleet_rates(histories.values(), today)
    _write_rates(
        AircraftUse(aircraft_id=pk, measured_on=today, rate=rate_to_data(rate(history, fleet, today)))
        for pk, history in histories.items()
    )
    return [pk for pk in histories if pk not in known]


def _write_rates(rows: Iterable[AircraftUse]) -> None:
    AircraftUse.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["aircraft"],
        update_fields=["measured_on", "rate"],
    )
