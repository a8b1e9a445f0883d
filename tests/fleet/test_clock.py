"""The clock can be held, and only the demonstration and tests may hold it."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from fleet.common.clock import frozen, local_day, now

ROOT = Path(__file__).resolve().parent.parent.parent
LATE = datetime(2026, 1, 1, 23, 30, tzinfo=UTC)


def test_a_held_clock_stands_still_and_goes_on_afterwards() -> None:
    with frozen(LATE):
        assert now() == LATE
        assert local_day("Europe/Oslo") == date(2026, 1, 2)
        with frozen(LATE + timedelta(days=1)):
            assert now() == LATE + timedelta(days=1)
        assert now() == LATE
    assert now() != LATE


def test_a_held_clock_goes_on_after_a_failure() -> None:
    with pytest.raises(ZeroDivisionError), frozen(LATE):
        raise ZeroDivisionError
    assert now() > LATE


def test_a_moment_of_another_zone_is_told_in_utc() -> None:
    with frozen(datetime(2026, 1, 1, 12, tzinfo=timezone(timedelta(hours=2)))):
        assert now().isoformat() == "2026-01-01T10:00:00+00:00"


def test_other_threads_keep_the_real_time() -> None:
    with frozen(LATE), ThreadPoolExecutor(1) as pool:
        assert pool.submit(now).result() != LATE


def test_only_the_demonstration_holds_the_clock() -> None:
    users = {
        str(path.relative_to(ROOT))
        for app in ("fleet", "scheduling", "records", "deploy")
        for path in (ROOT / app).rglob("*.py")
        if "frozen(" in path.read_text() and "management/demo" not in str(path)
    }
    assert users == {"fleet/common/clock.py"}
