"""What the trend rules say of one aircraft, from its series and those of its type."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fleet.common.errors import Refusal
from fleet.models import Aircraft, Equipment
from fleet.quantities import RefusedInput, convert_difference, parse_decimal
from records.gather.series import (
    HUNDRED,
    SeriesTest,
    Watched,
    bounds_of,
    nominal_of,
    point_segments,
    restarts_of,
    side_segments,
    tests_of,
)
from records.judge.crossing import Crossing, forecast_crossing
from records.judge.faults import FaultIndication, indicate_fault
from records.judge.mann_kendall import cross_check, tendency_of
from records.judge.series import ConfigurationEvent, Observation, Segment, SidePair
from records.judge.side_trend import AircraftTrend, judge_sides
from records.judge.spread import Spread, channels_of, pooled_spread, side_channels_of
from records.judge.trend import confirm, judge_trend
from records.judge.trend_terms import BOTH_SIDES_TOGETHER, TrendVerdict
from records.models import EquipmentUse
from scheduling.steps.terms import Point

NOT_POSSIBLE = "not_possible"
UNKNOWN_YET = 1.0
TOGETHER, BALANCE, ALONE = "together", "balance", "alone"
LABELS = {TOGETHER: "Both sides together", BALANCE: "Left against right", ALONE: "Flow"}


@dataclass(frozen=True, slots=True)
class Channel:
    """What is said of one channel. `verdict` is None where nothing can be said; `words` then say why."""

    name: str
    state: str
    words: str
    verdict: TrendVerdict | None = None
    cross_check: str = ""
    dismissed: tuple[str, ...] = ()

    @property
    def alarmed_record(self) -> str:
        """The number of the record whose reading raised the standing alarm, or nothing."""
        alarm = self.verdict.alarm if self.verdict else None
        return alarm.reference if alarm else ""


@dataclass(frozen=True, slots=True)
class Trend:
    """Everything a trend page shows of one aircraft and what is watched of one procedure."""

    aircraft: Aircraft
    procedure_code: str
    watched: Watched
    tests: tuple[SeriesTest, ...]
    restarts: tuple[ConfigurationEvent, ...]
    channels: tuple[Channel, ...]
    spread: Spread | None = None
    crossings: tuple[tuple[str, Crossing], ...] = ()
    indication: FaultIndication | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """All that is said, those in alarm first."""
        ordered = sorted(self.channels, key=lambda channel: not channel.alarmed_record)
        said = [channel.words for channel in ordered]
        said += [f"{LABELS[each.name]}: {each.cross_check}" for each in ordered if each.cross_check]
        said += [f"{name}: {crossing.words}" for name, crossing in self.crossings]
        said += [self.indication.words] if self.indication else []
        return tuple(said + ([self.spread.words] if self.spread else []))


@dataclass(frozen=True, slots=True)
class Fleet:
    """The series of every aircraft of the type."""

    tests: Mapping[int, Sequence[SeriesTest]]
    restarts: Mapping[int, Sequence[ConfigurationEvent]]


def fleet_of(aircraft: Aircraft, procedure_code: str) -> Fleet:
    """The tests of every aircraft of the same type, and what started their baselines anew."""
    ids = Aircraft.objects.filter(
        operator_id=aircraft.operator_id, aircraft_type_id=aircraft.aircraft_type_id
    ).values_list("pk", flat=True)
    tests = tests_of(ids, procedure_code)
    return Fleet(tests, restarts_of(tests, tests))


def trend_of(aircraft: Aircraft, procedure_code: str, watched: Watched, fleet: Fleet | None = None) -> Trend:
    """Judge one aircraft's newest baseline with the repeatability of its type.

    `fleet` is what `fleet_of` reads, where the caller has it already.
    """
    fleet = fleet or fleet_of(aircraft, procedure_code)
    bare = Trend(
        aircraft=aircraft,
        procedure_code=procedure_code,
        watched=watched,
        tests=tuple(fleet.tests[aircraft.pk]),
        restarts=tuple(fleet.restarts[aircraft.pk]),
        channels=(),
    )
    try:
        return _sides(bare, fleet) if watched.is_pair else _alone(bare, fleet)
    except Refusal as refusal:
        names = (TOGETHER, BALANCE) if watched.is_pair else (ALONE,)
        channels = tuple(Channel(name, NOT_POSSIBLE, refusal.sentence) for name in names)
        return replace(bare, channels=channels)


def _sides(bare: Trend, fleet: Fleet) -> Trend:
    watched = bare.watched
    cut = {pk: side_segments(fleet.tests[pk], fleet.restarts[pk], watched) for pk in fleet.tests}
    segment = cut[bare.aircraft.pk][-1]
    channels = side_channels_of([each for segments in cut.values() for each in segments])
    spread = _spread(bare, channels, segment)
    dismissed: set[str] = set()
    judged = judge_sides(segment, spread.sigma, dismissed)
    while (unconfirmed := _unconfirmed(judged)) is not None:
        dismissed.add(unconfirmed)
        judged = judge_sides(segment, spread.sigma, dismissed)
    notes = tuple(sorted(dismissed))
    return replace(
        bare,
        spread=spread,
        channels=(
            _channel(TOGETHER, judged.together, segment, notes),
            _channel(BALANCE, judged.balance, segment, notes),
        ),
        crossings=_crossings(bare, spread, in_alarm=judged.alarm is not None),
        indication=_indication(judged, segment, spread),
    )


def _spread(
    bare: Trend,
    channels: list[list[float]],
    segment: Segment[SidePair] | Segment[Observation],
) -> Spread:
    """The type's repeatability. While the baseline forms nothing rests on it, so that it may still be unknown."""
    floor = floor_of(bare.watched, bare.tests)
    if len(segment.valid) < BOTH_SIDES_TOGETHER.baseline_tests and not any(
        len(each) > 1 for each in channels
    ):
        floor = floor or UNKNOWN_YET
    return pooled_spread(channels, floor=floor)


def _unconfirmed(judged: AircraftTrend) -> str | None:
    """The record of an alarm that the next test on the same channel did not confirm."""
    for verdict in (judged.together, judged.balance):
        alarm = verdict.alarm
        later = [point.value for point in verdict.points if alarm and point.number > alarm.number]
        if alarm is not None and later and not confirm(verdict, later[:1]).confirmed:
            return alarm.reference
    return None


def _indication(judged: AircraftTrend, segment: Segment[SidePair], spread: Spread) -> FaultIndication | None:
    """What the newest test points to, once an alarm stands."""
    if judged.baseline is None or judged.alarm is None:
        return None
    return indicate_fault(segment.valid[-1], judged.baseline, spread.sigma)


def _alone(bare: Trend, fleet: Fleet) -> Trend:
    key = bare.watched.points[0].key
    cut = {pk: point_segments(fleet.tests[pk], fleet.restarts[pk], key) for pk in fleet.tests}
    segment = cut[bare.aircraft.pk][-1]
    channels = channels_of([each for segments in cut.values() for each in segments])
    spread = _spread(bare, channels, segment)
    dismissed: set[str] = set()
    verdict = judge_trend(segment, spread.sigma)
    while verdict.alarm is not None and not _stands(verdict):
        dismissed.add(verdict.alarm.reference)
        verdict = judge_trend(segment, spread.sigma, dismissed=dismissed)
    return replace(
        bare,
        spread=spread,
        channels=(_channel(ALONE, verdict, segment, tuple(sorted(dismissed))),),
        crossings=_crossings(bare, spread, in_alarm=verdict.in_alarm),
    )


def _stands(verdict: TrendVerdict) -> bool:
    alarm = verdict.alarm
    later = [point.value for point in verdict.points if alarm and point.number > alarm.number]
    return not later or confirm(verdict, later[:1]).confirmed


def _channel(
    name: str,
    verdict: TrendVerdict,
    segment: Segment[SidePair] | Segment[Observation],
    dismissed: tuple[str, ...],
) -> Channel:
    words = verdict.words
    if dismissed:
        words += f" The next test did not confirm the alarm of {' and '.join(dismissed)}."
    return Channel(name, verdict.state.value, words, verdict, _cross_check(verdict, segment), dismissed)


def _cross_check(verdict: TrendVerdict, segment: Segment[SidePair] | Segment[Observation]) -> str:
    """The tendency of the channel's own tests after and in its baseline, beside the alarm."""
    if not verdict.points:
        return ""
    numbers = {point.reference: point.value for point in verdict.points}
    charted = Segment(
        tuple(
            Observation(test.day, numbers[test.reference], reference=test.reference)
            for test in segment.valid
            if test.reference in numbers
        )
    )
    if verdict.alarm is None:
        tendency = tendency_of(charted)
        return tendency.words if tendency else ""
    checked = cross_check(
        charted, verdict.alarm.number, falling=verdict.alarm.value < (verdict.baseline or 0)
    )
    return checked.words if checked else ""


def _crossings(bare: Trend, spread: Spread, *, in_alarm: bool) -> tuple[tuple[str, Crossing], ...]:
    """When each point may meet its lower limit; a date only while an alarm stands."""
    found = []
    for point in bare.watched.points:
        low, _ = bounds_of(point)
        segment = point_segments(bare.tests, bare.restarts, point.key)[-1]
        if low is not None and low > 0 and segment.valid:
            limit = float(HUNDRED * low / nominal_of(point, low))
            found.append((point.name, forecast_crossing(segment, limit, spread.sigma, in_alarm=in_alarm)))
    return tuple(found)


def floor_of(watched: Watched, tests: Sequence[SeriesTest]) -> float:
    """The instruments' own uncertainty in per cent: no series repeats better than it can be read.

    A half-width of 10 mL, equally likely all over, on a nominal of 1 500 mL is 10/√3/15 = 0.385 %.
    """
    if not tests:
        return 0.0
    uses = EquipmentUse.objects.filter(run_id=tests[-1].run_id).select_related("equipment")
    return max((_floor(use.equipment, point) for use in uses for point in watched.points), default=0.0)


def _floor(equipment: Equipment, point: Point) -> float:
    """Nothing where the instrument measures something else than the point."""
    if not equipment.uncertainty or not equipment.unit:
        return 0.0
    try:
        half = convert_difference(parse_decimal(equipment.uncertainty), equipment.unit, point.unit)
    except RefusedInput:
        return 0.0
    return float(HUNDRED * half / nominal_of(point, half)) / math.sqrt(3)
