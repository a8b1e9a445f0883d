"""The only place that asks the time."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo


def now() -> datetime:
    """The present moment in UTC."""
    return datetime.now(UTC)


def local_day(zone: str, moment: datetime | None = None) -> date:
    """The calendar day at a base: `local_day("Europe/Oslo", 2026-01-01T23:30Z)` is 2026-01-02."""
    return (moment or now()).astimezone(ZoneInfo(zone)).date()
