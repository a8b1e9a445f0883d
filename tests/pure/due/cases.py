"""Random requirements and facts as written data, and the same facts for the engine."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random
from typing import Any

from scheduling.due.terms import (
    Amount,
    Facts,
    LastDue,
    Mark,
    MonthDay,
    Season,
    Since,
    Variation,
)

COUNTERS = ("hours", "landings", "cycles", "uses", "flight_days", "use_minutes")
MINUTES = ("hours", "use_minutes")
START = date(2019, 1, 1)


def written(measure: str, number: int) -> int | str:
    return f"{number // 60}:{number % 60:02d}" if measure in MINUTES else number


def random_limit(dice: Random) -> dict[str, Any]:
    measure = dice.choice(("days", "months", "date", "season", *COUNTERS))
    if measure == "date":
        return {"measure": measure, "every": str(START + timedelta(days=dice.randrange(4000)))}
    if measure == "season":
        every = dice.choice(
            ["10-01", "02-29", "begins", f"{dice.randint(1, 12):02d}-{dice.randint(1, 28):02d}"]
        )
        return {
            "measure": measure,
            "every": every,
            **({"early": dice.randrange(200)} if dice.random() < 0.5 else {}),
        }
    largest = 60 if measure == "months" else 2000
    interval = dice.randint(4, largest)
    limit: dict[str, Any] = {"measure": measure, "every": written(measure, interval)}
    _decorate(limit, measure, interval, dice)
    return limit


def _decorate(limit: dict[str, Any], measure: str, interval: int, dice: Random) -> None:
    calendar = measure in ("days", "months")
    unit = "days" if calendar else measure
    if dice.random() < 0.3:
        limit["since"] = dice.choice(["fitted", "new", "overhaul", "event"])
    elif dice.random() < 0.3:
        limit["first"] = written(measure, dice.randint(4, 60))
        limit["first_since"] = dice.choice(["new", "fitted", "overhaul", "event"])
    elif dice.random() < 0.15:
        limit["once"] = True
    if measure == "months" and dice.random() < 0.5:
        limit["month_rule"] = "same_day"
    elif measure != "months" and dice.random() < 0.2:
        limit["more_than"] = True
    limit["anchor"] = dice.choice(["from_due", "from_done", "window", "from_due_if_extended"])
    if limit["anchor"] == "window":
        cap = {"cap": written(unit, dice.randint(1, 40))} if dice.random() < 0.5 else {}
        limit["window"] = {"percent": str(dice.randint(1, 50)), **cap}
    if dice.random() < 0.3:
        allowed: Any = written(unit, dice.randint(1, interval - 1))
        if measure == "months" and dice.random() < 0.5:
            allowed = {"months": dice.randint(1, interval - 1)}
        limit["overrun"] = {"allowed": allowed, "en_route_only": dice.random() < 0.5}
    if dice.random() < 0.3:
        limit["soon"] = written(unit, dice.randint(0, 3))


def random_limits(dice: Random, depth: int = 0) -> dict[str, Any]:
    if depth == 2 or dice.random() < 0.4:
        return random_limit(dice)
    members = [random_limits(dice, depth + 1) for _ in range(dice.randint(1, 3))]
    return {"combine": dice.choice(["first", "last"]), "of": members}


def random_facts(dice: Random, paths: list[tuple[str, str]]) -> dict[str, Any]:
    """Facts in order of life: new, fitted, overhaul, event, last done somewhere, now; some marks are missing."""
    moments = sorted(dice.randrange(3000) for _ in range(6))
    marks = {}
    names = ["new", "fitted", "overhaul", "event", "last_done"]
    dice.shuffle(names)
    for name, moment in zip(["new", *[one for one in names if one != "new"]], moments, strict=False):
        if dice.random() < 0.75:
            marks[name] = {"day": START + timedelta(days=moment), "counters": _counters(moment, dice)}
    now = _counters(moments[-1], dice)
    if dice.random() < 0.1:
        now.pop(dice.choice(COUNTERS))
    facts = {
        "today": START + timedelta(days=moments[-1]),
        "now": now,
        "marks": marks,
        "season": dice.choice([(10, 1), (4, 15), (11, 20), (2, 29)]),
        "last_due": {},
        "variations": {},
    }
    last = marks.get("last_done")
    for path, measure in paths:
        if last is not None and dice.random() < 0.6:
            facts["last_due"][path] = _last_due(measure, last, dice)
    return facts


def _counters(moment: int, dice: Random) -> dict[str, int]:
    return {name: moment * factor for factor, name in enumerate(COUNTERS, 1)}


def _last_due(measure: str, last: dict[str, Any], dice: Random) -> dict[str, Any]:
    late = dice.randint(-30, 30)
    kept: dict[str, Any] = {"anchor": None, "extended": dice.random() < 0.5}
    if measure not in ("days", "months", "date", "season"):
        return {**kept, "at": max(last["counters"].get(measure, 0) - late, 0)}
    at = last["day"] - timedelta(days=late)
    anchor = at.replace(day=1) - timedelta(days=dice.randrange(1, 900)) if dice.random() < 0.5 else None
    return {**kept, "at": at, "anchor": anchor}


def engine_facts(facts: dict[str, Any]) -> Facts:
    month, day = facts["season"]
    return Facts(
        today=facts["today"],
        now=Mark(facts["today"], facts["now"]),
        marks={Since(name): Mark(mark["day"], mark["counters"]) for name, mark in facts["marks"].items()},
        last_due={
            path: LastDue(kept["at"], kept["anchor"], kept["extended"])
            for path, kept in facts["last_due"].items()
        },
        variations=tuple(
            Variation(path, granted["for_due"], Amount(granted["amount"]), "director", "weather")
            for path, granted in facts["variations"].items()
        ),
        season=Season(MonthDay(month, day)),
    )
