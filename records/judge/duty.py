"""Pump duty: no longer on than allowed, and a full rest before the clock starts again. Pure.

Moments and spans are whole milliseconds; where zero lies does not matter. A rest shorter than the minimum
does not reset the clock: run times add up, the rest itself is not counted. Exactly the maximum and exactly the
minimum are both allowed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from fleet.quantities import Quantity, refused
from records.judge.terms import Outcome, Verdict
from scheduling.limits.fields import Fields


@dataclass(frozen=True, slots=True)
class DutyLimit:
    """At most `maximum_on_ms` on; a rest of at least `minimum_rest_ms` starts the clock again."""

    maximum_on_ms: int
    minimum_rest_ms: int


@dataclass(frozen=True, slots=True)
class PumpRun:
    """The pump was on from start to stop; `stop_ms` None means it is still on."""

    start_ms: int
    stop_ms: int | None = None


@dataclass(frozen=True, slots=True)
class DutyState:
    """What the pump may do at one moment.

    `may_run_ms`: how long it may run from now without breaking the limit (negative when already over it).
    `earliest_start_ms`: when a run of any length may start. `full_run_from_ms`: when a full maximum is free
    again (now or later); None while the pump is on, because the rest has not begun. `must_stop_ms`: set while
    it is on.
    """

    running: bool
    on_ms: int
    may_run_ms: int
    earliest_start_ms: int | None
    full_run_from_ms: int | None
    must_stop_ms: int | None


def judge_duty(runs: Sequence[PumpRun], limit: DutyLimit, *, now_ms: int | None = None) -> Verdict:
    """6 s on, 9 s rest, 5 s on at "10 s on, 10 s rest" is FAIL: 11 s without a full rest.

    A run still on is judged up to `now_ms`; without it, it is INCOMPLETE unless the limit is already broken.
    Raises RefusedInput for runs that overlap, go backwards or stand out of order.
    """
    checked = _checked(runs, now_ms)
    if not checked:
        return Verdict(Outcome.INCOMPLETE, "the pump has not been run yet", "s")
    longest = max(_stretches(checked, limit))
    margin = Fraction(limit.maximum_on_ms - longest, 1000)
    allowed = f"{_seconds(limit.maximum_on_ms)} on at most, {_seconds(limit.minimum_rest_ms)} rest at least"
    reason = f"longest time on without a full rest was {_seconds(longest)}; allowed: {allowed}"
    if margin >= 0 and runs[-1].stop_ms is None:
        return Verdict(Outcome.INCOMPLETE, f"the pump is still on; {reason}", "s")
    outcome = Outcome.PASS if margin >= 0 else Outcome.FAIL
    maximum = Fraction(limit.maximum_on_ms, 1000)
    return Verdict(outcome, reason, "s", Fraction(longest, 1000), margin, margin, "high", maximum)


def duty_state(runs: Sequence[PumpRun], limit: DutyLimit, now_ms: int) -> DutyState:
    """After 10 s on and 4 s rest at "10 s on, 10 s rest": start in 6 s, for a full 10 s."""
    running = bool(runs) and runs[-1].stop_ms is None
    checked = _checked(runs, now_ms)
    if not checked:
        return DutyState(False, 0, limit.maximum_on_ms, now_ms, now_ms, None)
    last_stop = checked[-1][1]
    if last_stop > now_ms:
        raise refused("bad_duty_runs", "runs", last_stop, "ends after now", "check the clock of the device")
    on = _stretches(checked, limit)[-1]
    if running:
        left = limit.maximum_on_ms - on
        return DutyState(True, on, left, None, None, now_ms + left)
    rested = last_stop + limit.minimum_rest_ms
    if now_ms >= rested:
        return DutyState(False, 0, limit.maximum_on_ms, now_ms, now_ms, None)
    left = limit.maximum_on_ms - on
    return DutyState(False, on, left, now_ms if left > 0 else rested, rested, None)


def duty_from_data(data: object, *, where: str = "duty") -> DutyLimit:
    """From JSON: `{"maximum_on": "10", "minimum_rest": "10", "unit": "s"}`. Raises RefusedInput."""
    fields = Fields(data, where, ("maximum_on", "minimum_rest", "unit"))
    on, rest = fields.decimal("maximum_on", above="0"), fields.decimal("minimum_rest", least="0")
    unit = fields.unit()
    fields.finish("bad_duty_limit")
    spans = []
    for name, value in (("maximum_on", on), ("minimum_rest", rest)):
        span = 1000 * Quantity(value, unit).in_unit("s", field=fields.path("unit"))
        if span.denominator != 1:
            detail = "is finer than a millisecond"
            raise refused("bad_duty_limit", fields.path(name), value, detail, "write whole milliseconds")
        spans.append(span.numerator)
    return DutyLimit(spans[0], spans[1])


def duty_to_data(limit: DutyLimit) -> dict[str, str]:
    """The JSON object of a duty limit, in seconds."""
    on, rest = _decimal_seconds(limit.maximum_on_ms), _decimal_seconds(limit.minimum_rest_ms)
    return {"maximum_on": on, "minimum_rest": rest, "unit": "s"}


def _checked(runs: Sequence[PumpRun], now_ms: int | None) -> list[tuple[int, int]]:
    checked: list[tuple[int, int]] = []
    for number, run in enumerate(runs):
        field = f"runs.{number}"
        if run.stop_ms is None and number < len(runs) - 1:
            raise refused(
                "bad_duty_runs", field, "", "never stopped, but another followed", "enter when it stopped"
            )
        stop = run.stop_ms if run.stop_ms is not None else max(now_ms or run.start_ms, run.start_ms)
        if stop < run.start_ms:
            raise refused("bad_duty_runs", field, stop, "stops before it starts", "swap start and stop")
        if checked and run.start_ms < checked[-1][1]:
            detail = "starts before the run ahead of it stopped"
            raise refused(
                "bad_duty_runs", field, run.start_ms, detail, "enter runs in order, without overlap"
            )
        checked.append((run.start_ms, stop))
    return checked


def _stretches(runs: list[tuple[int, int]], limit: DutyLimit) -> list[int]:
    """Time on in each stretch that no full rest interrupts."""
    stretches: list[int] = []
    previous_stop: int | None = None
    for start, stop in runs:
        if previous_stop is None or start - previous_stop >= limit.minimum_rest_ms:
            stretches.append(0)
        stretches[-1] += stop - start
        previous_stop = stop
    return stretches


def _decimal_seconds(milliseconds: int) -> str:
    whole, rest = divmod(milliseconds, 1000)
    return f"{whole}.{rest:03d}".rstrip("0").rstrip(".") if rest else str(whole)


def _seconds(milliseconds: int) -> str:
    return f"{_decimal_seconds(milliseconds)} s"
