"""Tests of one aircraft in order of time, cut into segments where its configuration changed.

A segment has one baseline. A new panel, pump, filter, tank, fluid type or test method starts a new one,
because a legitimate change of level would otherwise look like a fault. Pure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Generic, Protocol, TypeVar

from fleet.quantities import refused
from records.judge.worded import finite


class Dated(Protocol):
    """What a segment needs to know of a test."""

    @property
    def day(self) -> date: ...
    @property
    def valid(self) -> bool: ...
    @property
    def reference(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Observation:
    """One reading of one channel: value in per cent of nominal; an invalid one is shown but never charted."""

    day: date
    value: float
    valid: bool = True
    reference: str = ""

    def __post_init__(self) -> None:
        finite("value", self.value)


@dataclass(frozen=True, slots=True)
class SidePair:
    """One test with a reading per side, both in per cent of nominal."""

    day: date
    left: float
    right: float
    valid: bool = True
    reference: str = ""

    def __post_init__(self) -> None:
        for field, value in (("left", self.left), ("right", self.right)):
            if finite(field, value) < 0:
                raise refused("negative", field, value, "a flow cannot be negative", "correct the reading")


@dataclass(frozen=True, slots=True)
class ConfigurationEvent:
    """A change after which old and new tests cannot be compared.

    A test of the same day counts as made after the event, since most events call for a test;
    `tests_before` holds the references of those made before it.
    """

    day: date
    what: str
    tests_before: frozenset[str] = frozenset()


Reading = TypeVar("Reading", bound=Dated)


@dataclass(frozen=True, slots=True)
class Segment(Generic[Reading]):
    """Tests between two configuration events, oldest first; the first one has no start and no reason."""

    observations: tuple[Reading, ...]
    start: date | None = None
    reason: str | None = None

    @property
    def valid(self) -> tuple[Reading, ...]:
        """The tests that count."""
        return tuple(observation for observation in self.observations if observation.valid)


def segments_of(
    observations: Sequence[Reading], events: Sequence[ConfigurationEvent]
) -> tuple[Segment[Reading], ...]:
    """Cut tests into segments at configuration events; the last one is the current one, perhaps still empty.

    >>> tests = [Observation(date(2026, 1, 5), 99.0), Observation(date(2026, 3, 5), 101.0)]
    >>> [len(s.observations) for s in segments_of(tests, [ConfigurationEvent(date(2026, 2, 1), "new pump")])]
    [1, 1]
    """
    left_over = sorted(observations, key=lambda observation: observation.day)
    start: date | None = None
    reason: str | None = None
    segments: list[Segment[Reading]] = []
    for event in _one_a_day(events):
        before = [observation for observation in left_over if _is_before(observation, event)]
        left_over = [observation for observation in left_over if not _is_before(observation, event)]
        segments.append(Segment(tuple(before), start, reason))
        start, reason = event.day, event.what
    segments.append(Segment(tuple(left_over), start, reason))
    return tuple(segments)


def current_segment(
    observations: Sequence[Reading], events: Sequence[ConfigurationEvent]
) -> Segment[Reading]:
    """The tests since the last configuration event: the only ones a new test is compared with.

    >>> current_segment([Observation(date(2026, 1, 5), 99.0)], []).valid[0].value
    99.0
    """
    return segments_of(observations, events)[-1]


def _is_before(observation: Dated, event: ConfigurationEvent) -> bool:
    if observation.day == event.day:
        return bool(observation.reference) and observation.reference in event.tests_before
    return observation.day < event.day


def _one_a_day(events: Sequence[ConfigurationEvent]) -> list[ConfigurationEvent]:
    """Events of one day make one cut: nobody flow-tests between the two halves of one job."""
    days: dict[date, ConfigurationEvent] = {}
    for event in sorted(events, key=lambda event: event.day):
        known = days.get(event.day)
        days[event.day] = event if known is None else _joined(known, event)
    return list(days.values())


def _joined(first: ConfigurationEvent, second: ConfigurationEvent) -> ConfigurationEvent:
    what = first.what if first.what == second.what else f"{first.what}; {second.what}"
    return ConfigurationEvent(first.day, what, first.tests_before | second.tests_before)
