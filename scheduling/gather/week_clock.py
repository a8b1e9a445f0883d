"""Between moments and the quarter hours of one week at one base, by the clock on its wall.

The wall clock is kept when daylight saving begins or ends, so that "Sun 08:00" is what the hangar's clock shows;
the hour that does not exist is cut out of every ground time and shift, and of one that comes twice the first
counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from scheduling.planner.problem import MINUTES_PER_SLOT, SLOTS_PER_WEEK, Span

SLOT = timedelta(minutes=MINUTES_PER_SLOT)


@dataclass(frozen=True, slots=True)
class WeekClock:
    """One week, from its Monday, in a base's zone."""

    monday: date
    zone: str

    @property
    def starts_at(self) -> datetime:
        """Monday 00:00 at the base, in UTC."""
        return self.moment(0)

    @property
    def ends_at(self) -> datetime:
        """The end of Sunday at the base, in UTC."""
        return self.moment(SLOTS_PER_WEEK)

    def moment(self, slot: int) -> datetime:
        """The moment a slot begins: slot 32 of the week of 9 Mar 2026 in Oslo is Monday 07:00 UTC."""
        wall = datetime.combine(self.monday, datetime.min.time()) + SLOT * slot
        return wall.replace(tzinfo=ZoneInfo(self.zone)).astimezone(UTC)

    def slot(self, moment: datetime, *, up: bool = False) -> int:
        """The slot a moment lies in, or with `up` the first that begins at or after it; may lie outside the week."""
        wall = moment.astimezone(ZoneInfo(self.zone)).replace(tzinfo=None)
        since = wall - datetime.combine(self.monday, datetime.min.time())
        whole, rest = divmod(since, SLOT)
        return whole + 1 if up and rest else whole

    def span(self, starts_at: datetime, ends_at: datetime) -> Span | None:
        """The whole slots between two moments that lie in the week; None where there are none."""
        start, end = max(0, self.slot(starts_at, up=True)), min(SLOTS_PER_WEEK, self.slot(ends_at))
        return Span(start, end) if start < end else None

    def spans(self, starts_at: datetime, ends_at: datetime) -> list[Span]:
        """The same without the hour that the clock skips."""
        whole = self.span(starts_at, ends_at)
        return [] if whole is None else cut([whole], self.skipped())

    def skipped(self) -> list[Span]:
        """The slots that no clock at the base ever shows in this week; usually none."""
        return list(_skipped(self))

    def day_end(self, day: date) -> int:
        """The slot at which a day of the base ends; below zero for a day long before the week."""
        return ((day - self.monday).days + 1) * (SLOTS_PER_WEEK // 7)


@lru_cache(maxsize=64)
def _skipped(week: WeekClock) -> tuple[Span, ...]:
    """Asked for every shift and every ground time of the week, and a week has many slots."""
    missing = [slot for slot in range(SLOTS_PER_WEEK) if week.slot(week.moment(slot)) != slot]
    return (Span(missing[0], missing[-1] + 1),) if missing else ()


def cut(spans: list[Span], holes: list[Span]) -> list[Span]:
    """The spans without the holes: 0 to 10 without 4 to 6 is 0 to 4 and 6 to 10."""
    found = spans
    for hole in holes:
        parts = [part for span in found for part in _without(span, hole)]
        found = [part for part in parts if part.start < part.end]
    return found


def _without(span: Span, hole: Span) -> tuple[Span, ...]:
    if hole.end <= span.start or span.end <= hole.start:
        return (span,)
    return (Span(span.start, hole.start), Span(hole.end, span.end))
