"""Two years of flying: weekdays more than weekends, summers more than winters, as the story of each aircraft has it."""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import accumulate

from fleet.models import Aircraft, FlightDay, FlightEntry, Meter
from fleet.selectors.meters import Counters, counters_at
from records.management.demo.past import Happening, Job
from records.management.demo.scenario import DAYS_OF_HISTORY, Scenario, written

ON_WEEKDAYS = (0.93, 0.94, 0.94, 0.93, 0.92, 0.62, 0.48)
TWICE_A_DAY = 0.16
MINUTES_A_LANDING = 52
# January to December: dark and stormy months fly less, light ones more.
BY_MONTH = (0.86, 0.88, 0.95, 1.0, 1.05, 1.12, 1.14, 1.12, 1.05, 0.98, 0.92, 0.86)


@dataclass(frozen=True, slots=True)
class Log:
    """What one aircraft flew: departures in order, and the counters after each of them."""

    opening: Counters
    departures: tuple[datetime, ...]
    minutes: tuple[int, ...]
    landings: tuple[int, ...]

    def at(self, moment: datetime) -> Counters:
        """The counters at a moment."""
        flown = bisect_right(self.departures, moment)
        if flown == 0:
            return self.opening
        landings = self.landings[flown - 1]
        return self.opening + Counters(self.minutes[flown - 1], landings, landings)

    def when(self, kind: str, value: int) -> datetime:
        """When a counter first showed a value (the first flight where it opened beyond it)."""
        series = {"minutes": self.minutes, "landings": self.landings, "cycles": self.landings}[kind]
        place = bisect_right(series, value - self.opening.as_dict()[kind])
        return self.departures[min(place, len(self.departures) - 1)]


def fly(scenario: Scenario, past: Iterable[Happening | Job]) -> dict[str, Log]:
    """Post the flights of every aircraft up to yesterday; none on days on which it was worked on."""
    busy = {(one.registration, one.at.date()) for one in past}
    logs = {}
    for row in written("demo/fleet.json")["aircraft"]:
        aircraft = scenario.aircraft[row["registration"]]
        planned = _flights(scenario, aircraft, row["daily_minutes"])
        flights = [flight for flight in planned if (aircraft.registration, flight.day) not in busy]
        opening = counters_at(aircraft.pk, scenario.opened)
        FlightEntry.objects.bulk_create(flights, batch_size=2000)
        FlightDay.objects.bulk_create(_days(aircraft, flights))
        logs[aircraft.registration] = _log(opening, flights)
        _show(aircraft, opening, flights)
    return logs


def last_flown(scenario: Scenario, registration: str) -> int:
    """How many days ago the aircraft may have flown last; one overdue by the calendar stands since its limit."""
    if registration == "QX-SKD":
        return scenario.today.day
    standing = {"panel_replaced": 2, "tank_refitted": 3, "failed_test": 2, "long_storage": 70}
    return standing.get(scenario.stories[registration], 1)


def _flights(scenario: Scenario, aircraft: Aircraft, daily_minutes: int) -> list[FlightEntry]:
    chance = random.Random(f"flights {aircraft.registration}")  # noqa: S311 - invents, guards nothing
    flights: list[FlightEntry] = []
    last = last_flown(scenario, aircraft.registration)
    for days_ago in range(DAYS_OF_HISTORY - 1, last - 1, -1):
        day = scenario.day(days_ago)
        wanted = ON_WEEKDAYS[day.weekday()] * min(1.0, 0.5 + 0.5 * BY_MONTH[day.month - 1])
        if chance.random() > wanted:
            continue
        minutes = max(35, round(daily_minutes * BY_MONTH[day.month - 1] * chance.gauss(1, 0.18)))
        parts = 2 if chance.random() < TWICE_A_DAY else 1
        for part in range(parts):
            clock = time(6 + 7 * part, chance.randrange(60))
            off_at = scenario.at(days_ago, clock, aircraft.base.zone)
            flights.append(_flight(aircraft, day, off_at, minutes // parts))
    return flights


def _flight(aircraft: Aircraft, day: date, off_at: datetime, minutes: int) -> FlightEntry:
    landings = max(1, round(minutes / MINUTES_A_LANDING))
    reference = f"{aircraft.registration[-3:]}{day:%y%m%d}-{off_at:%H}"
    return FlightEntry(
        aircraft=aircraft,
        day=day,
        off_at=off_at,
        minutes=minutes,
        landings=landings,
        cycles=landings,
        reference=reference,
    )


def _days(aircraft: Aircraft, flights: list[FlightEntry]) -> list[FlightDay]:
    days: dict[date, FlightDay] = {}
    for flight in flights:
        row = days.setdefault(flight.day, FlightDay(aircraft=aircraft, day=flight.day))
        row.minutes += flight.minutes
        row.landings += flight.landings
        row.cycles += flight.cycles
        row.flights += 1
    return list(days.values())


def _log(opening: Counters, flights: list[FlightEntry]) -> Log:
    return Log(
        opening,
        tuple(flight.off_at for flight in flights),
        tuple(accumulate(flight.minutes for flight in flights)),
        tuple(accumulate(flight.landings for flight in flights)),
    )


def _show(aircraft: Aircraft, opening: Counters, flights: list[FlightEntry]) -> None:
    """The meters show what was flown."""
    newest = flights[-1].off_at
    flown = opening + Counters(
        sum(flight.minutes for flight in flights),
        sum(flight.landings for flight in flights),
        sum(flight.cycles for flight in flights),
    )
    for kind, value in flown.as_dict().items():
        Meter.objects.filter(aircraft=aircraft, kind=kind).update(value=value, as_of=newest)
