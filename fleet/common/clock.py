"""The only place that asks the time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

_held: ContextVar[datetime | None] = ContextVar("held", default=None)


def now() -> datetime:
    """The present moment in UTC."""
    return _held.get() or datetime.now(UTC)


def local_day(zone: str, moment: datetime | None = None) -> date:
    """The calendar day at a base: `local_day("Europe/Oslo", 2026-01-01T23:30Z)` is 2026-01-02."""
    return (moment or now()).astimezone(ZoneInfo(zone)).date()


@contextmanager
def frozen(moment: datetime) -> Iterator[None]:
    """While inside, this thread's present is `moment`: for the demonstration's made-up past, and for tests.

    `with frozen(datetime(2026, 1, 1, 23, 30, tzinfo=UTC)): local_day("Europe/Oslo")` is 2026-01-02.
    """
    before = _held.set(moment.astimezone(UTC))
    try:
        yield
    finally:
        _held.reset(before)
