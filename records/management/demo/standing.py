"""How every line of the programme stands on every aircraft: when it was last done, so that the stories come true.

Most is somewhere within its limits. What is overdue, or soon due, is named here.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from records.management.demo.flying import Log
from records.management.demo.past import Job, moment
from records.management.demo.scenario import DAYS_OF_HISTORY, Scenario

EVENING = 19
# Months since it was last done; the last one of an interval makes it due at the end of this month.
MONTHS = {
    "annual-inspection": 12,
    "beacon-inspection": 12,
    "windshield-check": 12,
    "static-system-test": 24,
    "transponder-test": 24,
}
# Minutes, landings or cycles since: the counter, the least and the most of an ordinary aircraft.
COUNTED = {
    "inspection-200": ("minutes", 20 * 60, 165 * 60),
    "slinger-check": ("minutes", 30 * 60, 240 * 60),
    "wing-bolt-inspection": ("landings", 700, 4300),
    "engine-bulletin": ("cycles", 90, 1050),
}
# Shown as months, hours in minutes, landings or cycles since the last time.
TOLD = {
    ("QX-SKD", "annual-inspection"): 13,
    ("QX-SKD", "beacon-inspection"): 13,
    ("QX-SKH", "inspection-200"): 203 * 60 + 20,
    ("QX-SKH", "slinger-check"): 304 * 60 + 35,
    ("QX-SKJ", "annual-inspection"): 12,
    ("QX-SKA", "windshield-check"): 12,
    ("QX-SKL", "inspection-200"): 184 * 60,
    ("QX-SKE", "slinger-check"): 286 * 60,
    ("QX-SKG", "transponder-test"): 24,
    ("QX-SKK", "engine-bulletin"): 1182,
    ("QX-SKM", "slinger-check"): 60 * 60,
    ("QX-SKF", "inspection-200"): 178 * 60,
}
PROCEDURES = {
    "annual-inspection": "annual-inspection",
    "inspection-200": "inspection-200",
    "slinger-check": "propeller-slinger-check",
    "windshield-check": "windshield-spray-test",
    "beacon-inspection": "beacon-inspection",
    "static-system-test": "static-system-test",
    "transponder-test": "transponder-test",
    "wing-bolt-inspection": "wing-attachment-inspection",
    "engine-bulletin": "turbine-disc-borescope",
}
MOST_REPEATS = 2


@dataclass(frozen=True, slots=True)
class CarriedOver:
    """A line last done before the books begin: known from the papers, not from a record here."""

    registration: str
    requirement: str
    at: datetime
    before: int


def standing_of(scenario: Scenario, logs: dict[str, Log]) -> Iterator[Job | CarriedOver]:
    """The work that fell due and was done in two years, and what was carried over from before."""
    for registration in scenario.aircraft:
        chance = random.Random(f"standing {registration}")  # noqa: S311 - invents, guards nothing
        for requirement, interval in MONTHS.items():
            months = TOLD.get((registration, requirement)) or chance.randrange(1, interval - 2)
            yield from _by_months(scenario, registration, requirement, months)
        for requirement, (kind, least, most) in COUNTED.items():
            since = TOLD.get((registration, requirement)) or chance.randrange(least, most)
            yield from _by_counter(scenario, (registration, requirement), logs[registration], (kind, since))


def _by_months(
    scenario: Scenario, registration: str, requirement: str, months: int
) -> Iterator[Job | CarriedOver]:
    interval = MONTHS[requirement]
    for ago in (months + interval, months):
        day = _month_before(scenario.today, ago, 4 + (ord(registration[-1]) * 5 + interval) % 21)
        days = (scenario.today - day).days
        if days < DAYS_OF_HISTORY - 1:
            at = moment(scenario, registration, days, EVENING - 5)
            yield Job(registration, at, PROCEDURES[requirement], requirement)
        elif ago == months:
            at = scenario.at(days, time(EVENING - 5), scenario.aircraft[registration].base.zone)
            yield CarriedOver(registration, requirement, at, 0)


def _month_before(today: date, months: int, day: int) -> date:
    year, month = divmod(today.year * 12 + today.month - 1 - months, 12)
    return date(year, month + 1, day)


def _by_counter(
    scenario: Scenario, of: tuple[str, str], log: Log, counted: tuple[str, int]
) -> Iterator[Job | CarriedOver]:
    """The newest comes where the counter stood so much lower; earlier ones a little less than the interval apart."""
    (registration, requirement), (kind, since) = of, counted
    interval = {"inspection-200": 198 * 60, "slinger-check": 290 * 60}.get(requirement, 10**9)
    newest = log.at(scenario.now).as_dict()[kind]
    opening = log.opening.as_dict()[kind]
    if newest - since <= opening:
        yield CarriedOver(registration, requirement, scenario.opened, opening - (newest - since))
        return
    for number in reversed(range(MOST_REPEATS)):
        value = newest - since - number * interval
        if value <= opening:
            continue
        zone = ZoneInfo(scenario.aircraft[registration].base.zone)
        # The evening before, for by the evening of that day the counter has moved on.
        days = min(
            (scenario.today - log.when(kind, value).astimezone(zone).date()).days + 1, DAYS_OF_HISTORY - 1
        )
        yield Job(
            registration, moment(scenario, registration, days, EVENING), PROCEDURES[requirement], requirement
        )
