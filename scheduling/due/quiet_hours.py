"""When a message may go out: quiet hours and the morning of a base, across daylight saving. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class Rest:
    """A base's zone, its quiet hours (from one time up to another, over midnight if need be) and its morning."""

    zone: str
    quiet_from: time
    quiet_to: time
    digest_at: time


def local(zone: str, day: date, at: time) -> datetime:
    """A wall-clock time as a moment in UTC; one that daylight saving skips is the hour after it.

    02:30 on 29 Mar 2026 in Oslo does not exist and becomes 01:30 UTC, which is 03:30 there.
    """
    return datetime.combine(day, at, ZoneInfo(zone)).astimezone(UTC)


def is_quiet(rest: Rest, moment: datetime) -> bool:
    """Whether a moment lies in the quiet hours: with 21:00 to 06:00, 05:59 does and 06:00 does not."""
    at = moment.astimezone(ZoneInfo(rest.zone)).time().replace(fold=0)
    if rest.quiet_from <= rest.quiet_to:
        return rest.quiet_from <= at < rest.quiet_to
    return at >= rest.quiet_from or at < rest.quiet_to


def not_before(rest: Rest, moment: datetime) -> datetime:
    """The moment itself, or the end of the quiet hours it lies in."""
    if not is_quiet(rest, moment):
        return moment
    here = moment.astimezone(ZoneInfo(rest.zone))
    day = here.date() if here.time() < rest.quiet_to else here.date() + timedelta(days=1)
    return max(moment, local(rest.zone, day, rest.quiet_to))


def digest_day(rest: Rest, moment: datetime) -> date | None:
    """The local day whose digest is due by now; None before that day's morning.

    After three days down it is the present day alone: what was missed is in it.
    """
    today = moment.astimezone(ZoneInfo(rest.zone)).date()
    return today if moment >= local(rest.zone, today, rest.digest_at) else None
