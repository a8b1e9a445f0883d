"""Bring a collected volume to the specified run time, exactly. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from fleet.quantities import Quantity, refused
from records.judge.terms import Amount, Measured, display_decimal
from scheduling.limits.fields import Fields


@dataclass(frozen=True, slots=True)
class RunTime:
    """The run time the procedure asks for, and how many per cent the real one may deviate.

    `scale` false checks the time but leaves the volume alone: for runs that include filling or wetting out,
    where flow is not steady.
    """

    specified: Quantity
    max_deviation_percent: Decimal
    scale: bool = True


@dataclass(frozen=True, slots=True)
class Normalised:
    """A volume at the specified time; `valid` is false when the real time deviates too far."""

    amount: Amount
    deviation_percent: Fraction
    valid: bool
    reason: str


def normalise(
    collected: Measured, took: Quantity, run_time: RunTime, *, field: str = "run_time"
) -> Normalised:
    """V·t_specified/t_run as a fraction: 1001 mL in 308 s for 5 minutes is exactly 975 mL.

    Raises RefusedInput for a run time of zero or less, or in no unit of time.
    """
    seconds = took.in_unit("s", field=f"{field}.unit")
    if seconds <= 0:
        raise refused("bad_run_time", field, took, "must be above zero", "write how long the pump really ran")
    specified = run_time.specified.in_unit("s")
    deviation = 100 * (seconds - specified) / specified
    valid = abs(deviation) <= Fraction(run_time.max_deviation_percent)
    factor = specified / seconds if run_time.scale else Fraction(1)
    allowed = f"{run_time.max_deviation_percent:f} % allowed"
    percent = f"{display_decimal(deviation):+f}".replace("-", "−")
    reason = f"ran {took} instead of {run_time.specified} ({percent} %, {allowed})"
    return Normalised(Amount(Fraction(collected.value) * factor, collected.unit), deviation, valid, reason)


def run_time_from_data(data: object, *, where: str = "run_time") -> RunTime:
    """From JSON: `{"specified": "5", "unit": "min", "max_deviation_percent": "10", "scale": true}`."""
    fields = Fields(data, where, ("specified", "unit", "max_deviation_percent", "scale"))
    specified = fields.decimal("specified", above="0")
    percent = fields.decimal("max_deviation_percent", least="0")
    scale = fields.flag("scale") if "scale" in fields.values else True
    unit = fields.unit()
    fields.finish("bad_run_time")
    run_time = RunTime(Quantity(specified, unit), percent, scale)
    run_time.specified.in_unit("s", field=f"{where}.unit")
    return run_time


def run_time_to_data(run_time: RunTime) -> dict[str, str | bool]:
    """The JSON object of a run time; reading it back gives an equal one."""
    return {
        "specified": format(run_time.specified.value, "f"),
        "unit": run_time.specified.unit,
        "max_deviation_percent": format(run_time.max_deviation_percent, "f"),
        "scale": run_time.scale,
    }
