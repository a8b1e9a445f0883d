"""What happened to each aircraft in two years: events, the work they called for, and the work that fell due."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import datetime, time

from records.management.demo.entries import Flow
from records.management.demo.scenario import Scenario

REPEATABILITY = 1.2
DENSITY_AT_14 = 1.1018
WEIGHED_ON = "QX-SKL"
FILTER_CHANGED = {"A": 690, "B": 590, "C": 610, "D": 655, "E": 712, "F": 680, "G": 560, "H": 520, "J": 480}
FILTER_CHANGED |= {"K": 600, "L": 640, "M": 660}
LINE_OPENED = {"B": 188, "C": 260, "D": 151, "E": 232, "H": 306, "K": 214, "L": 176, "M": 240}
REPLACED = (
    ("L", 588, "panel-replaced", "tail-left", "seam weeping"),
    ("H", 576, "panel-replaced", "wing-left-outboard", "hail damage"),
    ("E", 540, "panel-replaced", "wing-left-mid", "dented by ground equipment"),
    ("D", 522, "pump-changed", "fluid-pump-1", "low pressure"),
    ("C", 500, "panel-replaced", "strut-right", "porous face blocked"),
    ("M", 471, "pump-changed", "fluid-pump-2", "noisy bearing"),
    ("J", 452, "panel-replaced", "wing-right-outboard", "bird strike"),
    ("K", 352, "slinger-changed", "propeller-left-slinger", "cracked at a bracket"),
    ("B", 431, "panel-replaced", "wing-left-inboard", "porous face blocked"),
)
STRUCK = (("G", 303, "lightning-strike"),)
CONTAMINATED = (("J", 262, "contaminated-fluid"),)
FALLING_TESTS = (262, 232, 202, 171, 141, 111, 80, 50, 19)
BEFORE_THE_FALL = (660, 604, 548, 492, 437, 381, 325, 290)
AFTER = {
    "panel-replaced": ("panel-purge", "panel-flow-test"),
    "pump-changed": ("panel-purge", "panel-flow-test"),
    "filter-changed": ("panel-purge", "panel-flow-test"),
    "line-opened": ("panel-purge", "panel-flow-test"),
    "slinger-changed": ("propeller-slinger-check",),
    "lightning-strike": ("after-strike-inspection",),
    "contaminated-fluid": ("contaminated-system-flush", "panel-purge", "panel-flow-test"),
}
FIRST_HOUR = {
    "filter-change": 9,
    "panel-purge": 11,
    "contaminated-system-flush": 8,
    "panel-flow-test": 13,
    "propeller-slinger-check": 15,
    "windshield-spray-test": 16,
}

AS_NEW = Flow()


@dataclass(frozen=True, slots=True)
class Happening:
    """An event somebody reported."""

    registration: str
    at: datetime
    kind: str
    position: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """Work done: it answers the open task of its procedure, or the requirement that had fallen due."""

    registration: str
    at: datetime
    procedure: str
    requirement: str = ""
    flow: Flow = AS_NEW


def past_of(scenario: Scenario) -> list[Happening | Job]:
    """The past of all aircraft, oldest first."""
    found: list[Happening | Job] = []
    for registration in scenario.aircraft:
        chance = random.Random(f"past {registration}")  # noqa: S311 - invents, guards nothing
        found += _events(scenario, registration, chance)
        found += _flow_tests(scenario, registration, chance)
    return sorted(found, key=lambda one: (one.at, one.registration))


def _events(scenario: Scenario, registration: str, chance: random.Random) -> list[Happening | Job]:
    letter = registration[-1]
    rows = [(FILTER_CHANGED[letter], "filter-changed", "fluid-filter", "time limit")]
    if letter in LINE_OPENED:
        rows.append((LINE_OPENED[letter], "line-opened", "", "access to the heater"))
    rows += [(ago, kind, place, words) for who, ago, kind, place, words in REPLACED if who == letter]
    rows += [(ago, kind, "", "") for who, ago, kind in (*STRUCK, *CONTAMINATED) if who == letter]
    found: list[Happening | Job] = []
    for ago, kind, place, words in rows:
        at = moment(scenario, registration, ago, 7)
        found.append(Happening(registration, at, kind, place, words))
        if kind == "filter-changed":
            found.append(
                Job(
                    registration,
                    moment(scenario, registration, ago, 9),
                    "filter-change",
                    "filter-replacement",
                )
            )
        for procedure in AFTER[kind]:
            at = moment(scenario, registration, ago, FIRST_HOUR.get(procedure, 10))
            flow = flow_of(registration, ago, chance)
            found.append(Job(registration, at, procedure, flow=flow))
    return found


def _flow_tests(scenario: Scenario, registration: str, chance: random.Random) -> list[Happening | Job]:
    """About every seven weeks; where something is wearing, the last ones came monthly."""
    story = scenario.stories[registration]
    if story in ("clogging_panel", "weak_pump"):
        days: tuple[int, ...] = (*BEFORE_THE_FALL, *FALLING_TESTS)
    else:
        newest = 84 if story == "long_storage" else 17 + 3 * (ord(registration[-1]) % 9)
        days = tuple(range(newest, 700, 53))
    return [
        Job(
            registration,
            moment(scenario, registration, ago, 13),
            "panel-flow-test",
            "flow-test-season",
            flow_of(registration, ago, chance),
        )
        for ago in sorted(days, reverse=True)
    ]


def flow_of(registration: str, ago: int, chance: random.Random) -> Flow:
    """Own level of each side, noise, and the fall where the story has one (about 1 % a month)."""
    own = random.Random(f"level {registration}")  # noqa: S311 - invents, guards nothing
    left, right = own.uniform(97.5, 101.5), own.uniform(97.5, 101.5)
    fallen = max(0, 275 - ago) / 30.4
    if registration == "QX-SKA":
        left, right = left - 1.05 * fallen, right + 0.8 * fallen
    if registration == "QX-SKF":
        left, right = left - 0.95 * fallen, right - 0.9 * fallen
    density = DENSITY_AT_14 if registration == WEIGHED_ON else None
    return Flow(left + chance.gauss(0, REPEATABILITY), right + chance.gauss(0, REPEATABILITY), density)


def moment(scenario: Scenario, registration: str, ago: int, hour: int) -> datetime:
    """A moment at the aircraft's own base, never on the same minute as its neighbour's."""
    minute = 3 * (ord(registration[-1]) - ord("A"))
    return scenario.at(ago, time(hour, minute), scenario.aircraft[registration].base.zone)
