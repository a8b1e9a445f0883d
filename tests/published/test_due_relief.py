"""Relief clocks: repair categories, the day of record, the operator's day boundary, flight days."""

import json
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from scheduling.due.relief import (
    ReliefClock,
    ReliefStatus,
    ReliefUnit,
    categories_from_data,
    relief_by_counter,
    relief_ends,
    relief_starts,
    relief_state,
    stated,
)
from tests.words import plain

pytestmark = pytest.mark.published

RULES = Path(__file__).parents[2] / "fixtures" / "rules" / "relief_categories.json"
CATEGORIES = categories_from_data(json.loads(RULES.read_text()))
UTC_ZONE = ZoneInfo("UTC")


def ends(code: str, recorded: str) -> str:
    end = relief_ends(CATEGORIES[code], datetime.fromisoformat(recorded + "+00:00"), UTC_ZONE)
    assert end is not None
    return end.isoformat()


@pytest.mark.parametrize(
    ("code", "recorded", "ending"),
    [
        ("B", "2025-01-26T10:00", "2025-01-30T00:00:00+00:00"),
        ("C", "2025-01-26T10:00", "2025-02-06T00:00:00+00:00"),
        ("D", "2025-01-26T10:00", "2025-05-27T00:00:00+00:00"),
        ("D", "2024-01-26T10:00", "2024-05-26T00:00:00+00:00"),
        ("B", "2024-02-27T10:00", "2024-03-02T00:00:00+00:00"),
        ("B", "2023-02-27T10:00", "2023-03-03T00:00:00+00:00"),
        ("B", "2025-12-29T10:00", "2026-01-02T00:00:00+00:00"),
    ],
)
def test_the_day_of_record_is_not_counted(code: str, recorded: str, ending: str) -> None:
    """FAA MMEL policy letter PL-25, repair intervals (B quoted, D from memory)."""
    assert ends(code, recorded) == ending


def test_the_clock_starts_at_the_midnight_ending_the_day_of_record() -> None:
    """PL-25, published example: recorded 26 January 10:00."""
    recorded = datetime(2025, 1, 26, 10, tzinfo=UTC)
    assert relief_starts(CATEGORIES["B"], recorded, UTC_ZONE).isoformat() == "2025-01-27T00:00:00+00:00"


def test_another_authority_starts_the_clock_one_minute_later() -> None:
    """HKAR-MMEL/MEL: 00:01 on the day after discovery."""
    data = [{"code": "B", "amount": 3, "unit": "days", "source": "HKAR-MMEL/MEL", "starts_at": "00:01"}]
    recorded = datetime(2025, 1, 26, 10, tzinfo=UTC)
    start = relief_starts(categories_from_data(data)["B"], recorded, UTC_ZONE)
    assert start.isoformat() == "2025-01-27T00:01:00+00:00"


def test_the_day_boundary_is_the_operators_own() -> None:
    """PL-25 rev 16 definition 9: midnight in universal time or the operator's local time."""
    recorded = datetime(2025, 1, 26, 23, 30, tzinfo=UTC)
    local = relief_ends(CATEGORIES["B"], recorded, ZoneInfo("Europe/Oslo"))
    assert local is not None
    assert local.isoformat() == "2025-01-31T00:00:00+01:00"
    assert ends("B", "2025-01-26T23:30") == "2025-01-30T00:00:00+00:00"


def test_a_relief_ends_at_local_midnight_across_the_change_of_clocks() -> None:
    """PL-25: calendar days, so the day of the change is one day though it has 23 hours."""
    recorded = datetime(2025, 3, 28, 10, tzinfo=UTC)
    end = relief_ends(CATEGORIES["B"], recorded, ZoneInfo("Europe/Oslo"))
    assert end is not None
    assert end.isoformat() == "2025-04-01T00:00:00+02:00"
    assert end.astimezone(UTC).isoformat() == "2025-03-31T22:00:00+00:00"


TWO_FLIGHT_DAYS = stated(CATEGORIES["A"], 2, ReliefUnit.FLIGHT_DAYS)


def flights(*starts: str) -> tuple[datetime, ...]:
    return tuple(datetime.fromisoformat(start + "+00:00") for start in starts)


@pytest.mark.parametrize(
    ("starts", "ending"),
    [
        ((), None),
        (("2025-01-26T15:00",), None),
        (("2025-01-27T08:00", "2025-01-27T12:00"), None),
        (("2025-01-27T08:00", "2025-01-27T12:00", "2025-01-30T09:00"), "2025-01-31T00:00:00+00:00"),
    ],
)
def test_a_flight_day_has_at_least_one_flight_and_is_not_the_day_of_record(
    starts: tuple[str, ...], ending: str | None
) -> None:
    """PL-25 rev 16 definition 9."""
    end = relief_ends(TWO_FLIGHT_DAYS, datetime(2025, 1, 26, 10, tzinfo=UTC), UTC_ZONE, flights(*starts))
    assert (end.isoformat() if end else None) == ending


def test_a_flight_after_midnight_universal_time_belongs_to_the_local_day() -> None:
    """PL-25 rev 16 definition 9: the operator chooses the boundary and keeps to it."""
    recorded = datetime(2025, 1, 26, 10, tzinfo=UTC)
    late = flights("2025-01-28T02:00", "2025-01-28T18:00")
    assert relief_ends(TWO_FLIGHT_DAYS, recorded, UTC_ZONE, late) is None
    end = relief_ends(TWO_FLIGHT_DAYS, recorded, ZoneInfo("America/Anchorage"), late)
    assert end is not None
    assert end.isoformat() == "2025-01-29T00:00:00-09:00"


def test_relief_runs_to_the_last_minute_and_is_expired_at_midnight() -> None:
    """PL-25: ends at the midnight ending the last day."""
    clock = ReliefClock(CATEGORIES["B"], datetime(2025, 1, 26, 10, tzinfo=UTC), UTC_ZONE)
    last = relief_state(clock, datetime(2025, 1, 29, 23, 59, tzinfo=UTC))
    assert (last.status, last.left) == (ReliefStatus.RUNNING, 0)
    over = relief_state(clock, datetime(2025, 1, 30, 0, 0, tzinfo=UTC))
    assert over.status is ReliefStatus.EXPIRED
    assert plain(over.words) == (
        "Relief category B expired at the midnight ending 29 Jan 2025 (UTC): "
        "no dispatch until it is repaired."
    )


def test_flights_cycles_and_hours_count_from_the_deferral_itself() -> None:
    """PL-25 rev 21: hours, cycles and flights begin with the deferral."""
    three = stated(CATEGORIES["A"], 3, ReliefUnit.FLIGHTS)
    assert relief_by_counter(three, 2400, 2402).left == 1
    assert relief_by_counter(three, 2400, 2403).status is ReliefStatus.EXPIRED
