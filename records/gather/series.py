"""Sealed tests into the series that the trend rules are asked with. Decides nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from fleet.common.clock import local_day
from fleet.quantities import convert
from records.judge.series import ConfigurationEvent, Observation, Segment, SidePair, segments_of
from records.judge.terms import Outcome
from records.models import BenchRun, SignedRecord
from scheduling.limits.kinds import AllYesLimit, PairLimit, RatioLimit
from scheduling.models import Event, ProcedureVersion
from scheduling.steps.parse import procedure_from_data
from scheduling.steps.terms import Point, ProcedureContent, StepKind

NO_EVIDENCE = (Outcome.INVALID, Outcome.INCOMPLETE, Outcome.REFUSED_INPUT)
HUNDRED = 100


@dataclass(frozen=True, slots=True)
class Watched:
    """What is watched together: a left and a right point of one procedure, or one point alone."""

    key: str
    name: str
    points: tuple[Point, ...]

    @property
    def is_pair(self) -> bool:
        """Whether two sides are compared."""
        return len(self.points) == 2

    def holds(self, key: str) -> bool:
        """Whether a point belongs to it, by its own key or as one of its sides."""
        return key == self.key or any(point.key == key for point in self.points)


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading of one point: what was compared, in the point's unit, and in per cent of nominal."""

    value: Fraction
    percent: float
    verdict: str
    reason: str
    allowed: str


@dataclass(frozen=True, slots=True)
class SeriesTest:
    """One sealed run as a trend sees it. `method` tells apart tests that cannot be compared."""

    aircraft_id: int
    run_id: int
    record: str
    day: date
    at: datetime
    verdict: str
    method: str
    readings: Mapping[str, Taken]

    @property
    def is_evidence(self) -> bool:
        """Only what was judged PASS or FAIL is charted."""
        return self.verdict not in NO_EVIDENCE


def watched_of(content: ProcedureContent) -> tuple[Watched, ...]:
    """What the procedure asks to be watched; a left and a right point are watched together."""
    marked = [point for point in content.points if point.trend and not point.of]
    sides = {side: [point for point in marked if point.side == side] for side in ("left", "right")}
    if len(sides["left"]) != 1 or len(sides["right"]) != 1:
        return tuple(Watched(point.key, point.name, (point,)) for point in marked)
    left, right = sides["left"][0], sides["right"][0]
    compared = next((p.key for p in content.points if set(p.of) == {left.key, right.key}), left.key)
    rest = [point for point in marked if point not in (left, right)]
    pair = Watched(compared, f"{left.name} and {right.name.lower()}", (left, right))
    return (pair, *(Watched(point.key, point.name, (point,)) for point in rest))


def tests_of(aircraft_ids: Iterable[int], procedure_code: str) -> dict[int, list[SeriesTest]]:
    """The sealed tests of several aircraft by one procedure, oldest first."""
    found: dict[int, list[SeriesTest]] = {pk: [] for pk in aircraft_ids}
    rows = (
        SignedRecord.objects.filter(
            aircraft_id__in=list(found), run__procedure_version__procedure__code=procedure_code
        )
        .select_related("run__aircraft__base", "run__procedure_version")
        .defer("canonical")
        .order_by("run__finished_at", "id")
    )
    contents: dict[int, ProcedureContent] = {}
    for record in rows:
        if record.run is not None:
            version = record.run.procedure_version
            contents.setdefault(version.pk, procedure_from_data(version.content))
            found[record.aircraft_id].append(_test(record, record.run, contents[version.pk]))
    return found


def _test(record: SignedRecord, run: BenchRun, content: ProcedureContent) -> SeriesTest:
    at = run.finished_at or run.started_at
    watched = [point for each in watched_of(content) for point in each.points]
    parts = {part["key"]: part for part in run.verdict_detail.get("parts", [])}
    readings = {
        point.key: _taken(point, parts[point.key])
        for point in watched
        if parts.get(point.key, {}).get("amounts")
    }
    return SeriesTest(
        aircraft_id=record.aircraft_id,
        run_id=run.pk,
        record=record.number,
        day=local_day(run.aircraft.base.zone, at),
        at=at,
        verdict=run.verdict,
        method=_method(run.content or {}, content, watched),
        readings=readings,
    )


def _taken(point: Point, part: Mapping[str, Any]) -> Taken:
    amount = part["amounts"][0]
    value = convert(Fraction(amount["value"]), amount["unit"], point.unit)
    percent = float(HUNDRED * value / nominal_of(point, value))
    return Taken(value, percent, part["outcome"], part["reason"], part["allowed"])


def nominal_of(point: Point, otherwise: Fraction) -> Fraction:
    """What a hundred per cent of a point is: its nominal, the middle of its limits, or what is given."""
    if point.nominal:
        return Fraction(point.nominal)
    ends = [end for end in bounds_of(point) if end is not None]
    middle = sum(ends, Fraction(0)) / len(ends) if ends else Fraction(0)
    return middle or otherwise or Fraction(1)


def bounds_of(point: Point) -> tuple[Fraction | None, Fraction | None]:
    """The lowest and highest value allowed, in the point's unit; None where that end is open."""
    if isinstance(point.limit, PairLimit | RatioLimit | AllYesLimit):
        return None, None
    bounds = point.limit.bounds()
    low, high = (
        None if end is None else convert(end, point.limit.unit, point.unit)
        for end in (bounds.low, bounds.high)
    )
    return low, high


def _method(sealed: Mapping[str, Any], content: ProcedureContent, watched: Sequence[Point]) -> str:
    """Everything that changes the level of a reading without anything being wrong, in words."""
    collections = [
        side.get("method", "reading")
        for answer in sealed.get("answers", [])
        if answer.get("counts")
        for side in answer["answer"].get("sides", {}).values()
    ]
    runs = [f"{step.seconds} s" for step in content.steps if step.kind is StepKind.TIMED_RUN]
    points = [
        f"{point.key} {point.unit} {point.nominal} {point.normalise.seconds if point.normalise else ''}"
        for point in watched
    ]
    fluids = [row["specification"] for row in sealed.get("fluid", [])]
    return "; ".join([*sorted(set(collections)), *runs, *points, *fluids])


def restarts_of(
    aircraft_ids: Iterable[int], tests: Mapping[int, Sequence[SeriesTest]]
) -> dict[int, list[ConfigurationEvent]]:
    """After what old and new tests cannot be compared: events that say so, and changes of the test itself."""
    found: dict[int, list[ConfigurationEvent]] = {pk: [] for pk in aircraft_ids}
    rows = Event.objects.filter(aircraft_id__in=list(found), kind__restarts_baseline=True)
    for event in rows.select_related("kind", "position", "aircraft__base").order_by("at", "id"):
        day = local_day(event.aircraft.base.zone, event.at)
        where = f" at {event.position}" if event.position else ""
        before = frozenset(test.record for test in tests.get(event.aircraft_id, ()) if test.at < event.at)
        what = f"{event.kind.name[:1].lower()}{event.kind.name[1:]}{where}"
        found[event.aircraft_id].append(ConfigurationEvent(day, what, before))
    for aircraft_id, rest in tests.items():
        found[aircraft_id].extend(_changes_of_method(rest))
    return found


def _changes_of_method(tests: Sequence[SeriesTest]) -> list[ConfigurationEvent]:
    return [
        ConfigurationEvent(
            test.day, "another way of testing", frozenset(each.record for each in tests[:place])
        )
        for place, test in enumerate(tests)
        if place and test.method != tests[place - 1].method
    ]


def side_segments(
    tests: Sequence[SeriesTest], restarts: Sequence[ConfigurationEvent], watched: Watched
) -> tuple[Segment[SidePair], ...]:
    """Both sides of each test, in per cent of nominal, cut where the configuration changed."""
    left, right = (point.key for point in watched.points)
    pairs = [
        SidePair(
            test.day,
            test.readings[left].percent,
            test.readings[right].percent,
            test.is_evidence,
            test.record,
        )
        for test in tests
        if left in test.readings and right in test.readings
    ]
    return segments_of(pairs, restarts)


def point_segments(
    tests: Sequence[SeriesTest], restarts: Sequence[ConfigurationEvent], key: str
) -> tuple[Segment[Observation], ...]:
    """One point of each test, in per cent of nominal, cut where the configuration changed."""
    observations = [
        Observation(test.day, test.readings[key].percent, test.is_evidence, test.record)
        for test in tests
        if key in test.readings
    ]
    return segments_of(observations, restarts)


def current_content(operator_id: int, procedure_code: str) -> ProcedureContent | None:
    """The text of a procedure that is in force, or else its newest; None where there is no such procedure."""
    version = (
        ProcedureVersion.objects.filter(
            procedure__operator_id=operator_id,
            procedure__code=procedure_code,
            state__in=["current", "superseded"],
        )
        .order_by("state", "-number")
        .first()
    )
    return procedure_from_data(version.content) if version else None
