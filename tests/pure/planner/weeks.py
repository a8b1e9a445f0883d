"""Made-up weeks for the planner's tests and benchmark; the same seed gives the same week."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from scheduling.planner.problem import (
    SLOTS_PER_DAY,
    Bay,
    Equipment,
    Job,
    Person,
    Problem,
    Shift,
    Slot,
    Window,
)

SKILLS = ("airframe", "engine", "avionics", "ice")
ROUTINE = (("Wheel change", "airframe"), ("Oil filter change", "engine"), ("Beacon check", "avionics"))


@dataclass(frozen=True)
class Size:
    """How large a made-up week is."""

    aircraft: int
    people: int
    bases: int
    routine: int = 3


SMALL = Size(10, 8, 1)
MIDDLE = Size(50, 25, 3)
LARGE = Size(200, 80, 8)


def week(seed: int, size: Size = SMALL) -> Problem:
    """A week with a purge, a flow test and an independent inspection on every aircraft, and routine work."""
    random = Random(seed)
    bases = [f"base {n}" for n in range(size.bases)]
    homes = {f"QX-{n:03d}": bases[n % size.bases] for n in range(size.aircraft)}
    windows = [w for name, base in homes.items() for w in _ground(random, name, base)]
    jobs = [job for name in homes for job in _chain(random, name) + _routine(random, name, size.routine)]
    per_base = max(2, -(-size.aircraft // size.bases) // 6)
    return Problem(
        jobs=tuple(jobs),
        bays=tuple(Bay(f"{base} bay {n}", f"Bay {n}", base) for base in bases for n in range(per_base)),
        people=tuple(_person(random, n, bases[n % size.bases], size.bases) for n in range(size.people)),
        equipment=tuple(
            Equipment(f"{base} {kind}", f"{kind} at {base}", kind, base)
            for base in bases
            for kind in ("fluid kit", "ground power")
        ),
        windows=tuple(windows),
    )


def disturbed(problem: Problem, slots: tuple[Slot, ...], seed: int) -> Problem:
    """The same week after some people fell ill, with the plan published before."""
    random = Random(seed)
    people = tuple(
        replace(p, shifts=p.shifts[1:]) if random.random() < 0.2 and len(p.shifts) > 1 else p
        for p in problem.people
    )
    return replace(problem, people=people, published=slots)


def _ground(random: Random, aircraft: str, base: str) -> list[Window]:
    days = sorted(random.sample(range(7), 3))
    found = []
    for day in days:
        start = day * SLOTS_PER_DAY + random.randint(24, 48)
        found.append(
            Window(aircraft, base, start, min(start + random.randint(28, 44), (day + 1) * SLOTS_PER_DAY))
        )
    return found


def _person(random: Random, number: int, base: str, bases: int) -> Person:
    early = random.random() < 0.6
    days = sorted(random.sample(range(7), 5))
    starts = [day * SLOTS_PER_DAY + (24 if early else 48) for day in days]
    skills = frozenset(random.sample(SKILLS, 2)) | ({"inspect"} if number // bases % 3 == 0 else set())
    return Person(
        f"person {number}", f"Person {number}", skills, tuple(Shift(base, s, s + 36) for s in starts)
    )


def _chain(random: Random, aircraft: str) -> list[Job]:
    due = random.randint(2, 8) * SLOTS_PER_DAY
    hard = due if random.random() < 0.3 else None
    kit, power = ("fluid kit", 1), ("ground power", 1)
    common = {"aircraft": aircraft, "due_soft": due, "drop_cost": 1500 if hard else 500}
    purge = Job(
        f"{aircraft} purge", "Panel purge", duration=random.randint(4, 8), skills=frozenset({"ice"}),
        equipment=(kit, power), alone=True, due_hard=hard, **common,
    )  # fmt: skip
    test = Job(
        f"{aircraft} test", "Panel flow test", duration=random.randint(3, 5), people=2, skills=frozenset({"ice"}),
        equipment=(power,), alone=True, after=(purge.id,), due_hard=hard, **common,
    )  # fmt: skip
    look = Job(
        f"{aircraft} look", "Independent inspection", duration=2, skills=frozenset({"inspect"}),
        after=(test.id,), other_person_than=(purge.id, test.id), due_hard=hard, **common,
    )  # fmt: skip
    return [purge, test, look]


def _routine(random: Random, aircraft: str, count: int) -> list[Job]:
    return [
        Job(
            f"{aircraft} routine {n}", ROUTINE[n % 3][0], aircraft, random.randint(2, 10),
            people=random.choice((1, 1, 2)), skills=frozenset({ROUTINE[n % 3][1]}), needs_bay=n != 2,
            due_soft=random.randint(1, 8) * SLOTS_PER_DAY, late_cost=random.choice((1, 2)),
        )
        for n in range(count)
    ]  # fmt: skip
