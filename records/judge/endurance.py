"""How long the fluid lasts, exactly. Pure.

A higher flow empties the tank sooner, so the measured flows of all outlets count, not the nominal ones. Shown
figures are rounded down.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from fleet.quantities import Quantity, floor_decimal, refused
from records.judge.terms import Measured, Outcome, Verdict, shown


def endurance_minutes(
    usable: Measured, flows: Sequence[Measured], *, guard_percent: Decimal = Decimal(0)
) -> Fraction:
    """Minutes = usable/(sum of flows): 27 L at 600 mL/min is exactly 45.

    `guard_percent` is added to the flow. Raises RefusedInput for no flow, or a negative flow or volume.
    """
    volume = usable.in_unit("mL", field="usable.unit")
    if volume < 0:
        raise refused("negative_reading", "usable", usable, "is below zero", "check the quantity")
    return volume / _total_flow(flows, guard_percent)


def judge_endurance(
    usable: Measured, flows: Sequence[Measured], required: Quantity, *, guard_percent: Decimal = Decimal(0)
) -> Verdict:
    """Whether the fluid lasts as long as required: 7 US gal at 600 mL/min for 45 min is FAIL (44.16 min)."""
    minutes = endurance_minutes(usable, flows, guard_percent=guard_percent)
    needed = _required_minutes(required)
    margin = minutes - needed
    outcome = Outcome.PASS if margin >= 0 else Outcome.FAIL
    reason = f"{usable} lasts {floor_decimal(minutes, 2):f} min; {shown(needed, 'min')} required"
    return Verdict(outcome, reason, "min", minutes, margin, margin, "low", needed)


def judge_dispatch_quantity(
    indicated: Measured, flows: Sequence[Measured], required: Quantity, *, guard_percent: Decimal = Decimal(0)
) -> Verdict:
    """Whether enough is on board: 90 min at 16 L/h needs 24 L; 23.9 L is FAIL, 24.0 L is PASS."""
    held = indicated.in_unit("L", field="indicated.unit")
    if held < 0:
        raise refused("negative_reading", "indicated", indicated, "is below zero", "check the gauge")
    needed = _required_minutes(required) * _total_flow(flows, guard_percent) / 1000
    margin = held - needed
    outcome = Outcome.PASS if margin >= 0 else Outcome.FAIL
    reason = f"{indicated} indicated; {shown(needed, 'L')} needed for {required}"
    return Verdict(outcome, reason, "L", held, margin, margin, "low", needed)


def _total_flow(flows: Sequence[Measured], guard_percent: Decimal) -> Fraction:
    """mL/min of all outlets together, guard added."""
    total = Fraction(0)
    for number, flow in enumerate(flows):
        amount = flow.in_unit("mL/min", field=f"flows.{number}.unit")
        if amount < 0:
            raise refused("negative_reading", f"flows.{number}", flow, "is below zero", "check the reading")
        total += amount
    if total == 0:
        raise refused("no_flow", "flows", len(flows), "add up to no flow at all", "measure the outlets first")
    if guard_percent < 0:
        raise refused("bad_guard", "guard_percent", guard_percent, "is below zero", "write 0 or more")
    return total * (100 + Fraction(guard_percent)) / 100


def _required_minutes(required: Quantity) -> Fraction:
    minutes = required.in_unit("min", field="required.unit")
    if minutes <= 0:
        raise refused(
            "bad_required_time", "required", required, "must be above zero", "write the minutes required"
        )
    return minutes
