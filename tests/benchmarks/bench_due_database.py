"""The due list in the database: `python tests/benchmarks/bench_due_database.py [AIRCRAFT REQUIREMENTS]`.

A2: the whole due list through the product's own export (state of every row as of today, in order) against a bare
driver fetch of the same columns in the same order. A3: posting a flight with everything it moves on an aircraft of
all requirements (`after_flight` behind insert and counters, and the whole service) against the bare INSERT of the
flight, each in its own transaction, in random order. A4: pages of 50 at the first, middle and last place against 50
neighbours read by primary key. Beside them what a morning costs: following rates measured anew (`project_anew`)
against reckoning the same aircraft from their facts. All ratios are of medians taken in this run, on the database of
the settings (SQLite; PostgreSQL with DJANGO_SETTINGS_MODULE=deploy.settings.test_postgres). The data are drawn with a
fixed seed.
"""

from __future__ import annotations

import gc
import os
import random
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median, quantiles

import django

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.test")
django.setup()

from django.db import connection, transaction  # noqa: E402

from fleet.common.actor import Actor, Role  # noqa: E402
from fleet.models import Aircraft, AircraftType, Base, FlightEntry, Meter, Operator, User  # noqa: E402
from fleet.selectors.meters import Counters  # noqa: E402
from fleet.services.counting import count_flight  # noqa: E402
from fleet.services.meters import NewFlight, post_flight  # noqa: E402
from scheduling.models import AircraftUse, Applicability, DueFact, Requirement, TypeUse  # noqa: E402
from scheduling.selectors.due_list import JUDGED, SHOWN, counts, exported, filtered, one_more, page_of  # noqa: E402
from scheduling.selectors.due_query import DueQuery, query_from  # noqa: E402
from scheduling.services.due_facts import reckon_aircraft  # noqa: E402
from scheduling.services.due_flown import after_flight  # noqa: E402
from scheduling.services.due_projected import project_anew  # noqa: E402

SEED = 30
NOW = datetime.now(UTC)
TODAY = NOW.date()
RATE = {
    "used": {"hours": 185_000, "landings": 2_300, "cycles": 2_300, "flight_days": 700},
    "own": {"hours": 185_000, "landings": 2_300, "cycles": 2_300, "flight_days": 700},
    "fleet": None,
    "history_days": 90,
    "regularity": "regular",
}
BANDS = [
    [
        measure,
        "",
        [[7, 0.55, 1.9, 400, 9], [14, 0.6, 1.7, 380, 20], [28, 0.7, 1.5, 350, 40], [56, 0.75, 1.4, 300, 80]],
    ]
    for measure in ("hours", "landings", "cycles", "flight_days")
]


def make_fleet(aircraft: int, requirements: int) -> Actor:
    """So many aircraft with so many plain requirements each; due facts as the product itself reckons them."""
    dice = random.Random(SEED)
    operator = Operator.objects.create(code="bench", name="Bench")
    base = Base.objects.create(operator=operator, code="b", name="B", zone="UTC")
    kind = AircraftType.objects.create(operator=operator, code="t", name="T")
    user = User.objects.create(username="bench")
    TypeUse.objects.create(aircraft_type=kind, measured_on=TODAY, bands=BANDS)
    fleet = Aircraft.objects.bulk_create(
        Aircraft(operator=operator, base=base, aircraft_type=kind, registration=f"QX-{n:05d}", serial_number=str(n),
                 manufactured_on=date(2010, 1, 1)) for n in range(aircraft)
    )  # fmt: skip
    Meter.objects.bulk_create(
        Meter(aircraft=one, kind=name, value=value, as_of=NOW)
        for one in fleet for name, value in (("minutes", 600_000), ("landings", 9_000), ("cycles", 9_000))
    )  # fmt: skip
    AircraftUse.objects.bulk_create(AircraftUse(aircraft=one, measured_on=TODAY, rate=RATE) for one in fleet)
    lines = Requirement.objects.bulk_create(
        Requirement(operator=operator, code=f"r{n}", title=f"Requirement {n}", ata=f"{20 + n % 60}-10",
                    limits=limits_of(dice), source="bench", written_at=NOW) for n in range(requirements)
    )  # fmt: skip
    for some in (fleet[start : start + 50] for start in range(0, aircraft, 50)):
        Applicability.objects.bulk_create(
            Applicability(requirement=line, code=line.code, aircraft=one, last_done=last_done(dice))
            for one in some for line in lines
        )  # fmt: skip
        reckon_aircraft(one.pk for one in some)
    return Actor(operator.pk, "bench", user.pk, frozenset({Role.CONTROLLER}))


def limits_of(dice: random.Random) -> dict[str, object]:
    """Hours, landings, months or days, half of them two whichever first."""
    pool = [
        {"measure": "hours", "every": f"{dice.choice([100, 200, 600, 1200])}:00"},
        {"measure": "landings", "every": dice.choice([300, 1000, 5000])},
        {"measure": "months", "every": dice.choice([6, 12, 24, 60])},
        {"measure": "days", "every": dice.choice([90, 180, 400])},
    ]
    return {"combine": "first", "of": dice.sample(pool, 2)} if dice.random() < 0.5 else dice.choice(pool)


def last_done(dice: random.Random) -> dict[str, object]:
    """Somewhere in the last five months."""
    day = TODAY - timedelta(days=dice.randint(0, 150))
    return {
        "day": day.isoformat(),
        "counters": {"hours": 600_000 - dice.randint(0, 9_000), "landings": 9_000 - dice.randint(0, 350)},
    }


def seconds(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def interleaved(acts: dict[str, Callable[[], object]], rounds: int) -> dict[str, list[float]]:
    """Each act once a round, in an order drawn anew each time."""
    dice = random.Random(SEED)
    taken: dict[str, list[float]] = {name: [] for name in acts}
    gc.collect()
    gc.freeze()
    for _ in range(rounds):
        for name in dice.sample(list(acts), len(acts)):
            taken[name].append(seconds(acts[name]))
    return taken


def whole_list(actor: Actor) -> None:
    query = query_from({})
    rows = filtered(actor, query).order_by("order_day", "applicability_id").values_list(*JUDGED, *SHOWN)
    sql, parameters = rows.query.sql_with_params()

    def bare() -> None:
        driver = connection.connection
        words = sql if connection.vendor == "postgresql" else sql.replace("%s", "?")
        driver.cursor().execute(words, parameters).fetchall()

    taken = interleaved({"bare": bare, "list": lambda: sum(1 for _ in exported(actor, query))}, 5)
    report("A2 whole list / bare driver fetch", taken["list"], taken["bare"])


def flights(actor: Actor) -> None:
    pk = Aircraft.objects.order_by("pk").values_list("pk", flat=True)[0]
    number = iter(range(10_000_000))

    def entry() -> FlightEntry:
        reference = f"B{next(number)}"
        return FlightEntry(
            aircraft_id=pk, day=TODAY, off_at=NOW, minutes=63, landings=1, cycles=1, reference=reference
        )

    def bare() -> None:
        with transaction.atomic():
            entry().save(force_insert=True)

    def refreshed() -> None:
        with transaction.atomic():
            flown = entry()
            flown.save(force_insert=True)
            count_flight(flown, Counters(63, 1, 1))
            after_flight(pk, NOW)

    def service() -> None:
        flight = NewFlight(pk, NOW - timedelta(seconds=next(number)), 63, 1, 1, f"S{next(number)}")
        post_flight(actor=actor, flight=flight)

    taken = interleaved({"bare": bare, "refreshed": refreshed, "service": service}, 120)
    report("A3 insert, counters, refresh / bare INSERT", taken["refreshed"], taken["bare"])
    report("A3 the whole service / bare INSERT", taken["service"], taken["bare"])
    slow = {name: f"{quantiles(times, n=20)[-1] * 1000:.1f} ms" for name, times in taken.items()}
    print(f"   p95: bare INSERT {slow['bare']}, refresh {slow['refreshed']}, service {slow['service']}")


def pages(actor: Actor) -> None:
    ids = list(DueFact.objects.order_by("order_day", "applicability_id").values_list("order_day", "pk"))
    places = {"first": "", "middle": cursor_at(ids[len(ids) // 2]), "last": cursor_at(ids[-51])}
    acts: dict[str, Callable[[], object]] = {}
    for name, place in places.items():
        query = query_from({"base": "b", "after": place})
        acts[name] = statement_of(actor, query)
        acts[f"{name}, page alone"] = page_reader(actor, query)
        acts[f"{name}, as doors ask"] = door_reader(actor, query)
    middle_key = min(pk for _, pk in ids) + len(ids) // 2
    neighbours = DueFact.objects.filter(pk__gte=middle_key).order_by("pk").values_list("order_day", "pk")[:51]
    acts["by key"] = reader_of(*neighbours.query.sql_with_params())
    taken = interleaved(acts, 200)
    for name in places:
        report(f"A4 {name} page / 50 by primary key", taken[name], taken["by key"])
    report("A4 last page / first page", taken["last"], taken["first"])
    for way in ("page alone", "as doors ask"):
        ends = (taken[f"{name}, {way}"] for name in ("last", "first"))
        report(f"A4 last page / first page, through the selector, {way}", *ends)
    print(f"   counts, asked apart: {seconds(lambda: counts(actor, query_from({}))) * 1000:.1f} ms")


def statement_of(actor: Actor, query: DueQuery) -> Callable[[], object]:
    """The very statement the selector sends for a page, as it sends it: with its places as parameters."""
    return reader_of(*one_more(filtered(actor, query), query).query.sql_with_params())


def reader_of(sql: str, parameters: tuple[object, ...]) -> Callable[[], object]:
    """Send a statement and take its rows."""

    def read() -> object:
        with connection.cursor() as cursor:
            cursor.execute(sql, parameters)
            return cursor.fetchall()

    return read


def page_reader(actor: Actor, query: DueQuery) -> Callable[[], object]:
    """The page alone: filters are resolved beforehand, as they are the same for every page."""
    rows = filtered(actor, query)
    return lambda: page_of(rows.all(), query)


def door_reader(actor: Actor, query: DueQuery) -> Callable[[], object]:
    """Filters and page, as screens and API ask for them."""
    return lambda: page_of(filtered(actor, query), query)


def cursor_at(row: tuple[int, int]) -> str:
    from scheduling.selectors.due_list import _cursor

    return _cursor(row)


def morning(actor: Actor) -> None:
    """Fifty aircraft at most: half as much flying as was thought, then the same from the facts."""
    ids = list(AircraftUse.objects.order_by("pk").values_list("pk", flat=True)[:50])
    slower = {**RATE, "used": {name: amount // 2 for name, amount in RATE["used"].items()}}
    AircraftUse.objects.update(projected_on=TODAY)
    AircraftUse.objects.filter(pk__in=ids).update(rate=slower, projected_on=None)
    moved: list[int] = []
    followed = seconds(lambda: moved.append(project_anew(actor.operator_id)))
    reckoned = seconds(lambda: reckon_aircraft(ids))
    items = DueFact.objects.filter(aircraft__in=ids).count()
    print(
        f"new rates of {len(ids)} aircraft: {moved[0]} of {items} items moved, {followed / reckoned:.2f}x a full "
        f"reckoning ({followed:.1f} s against {reckoned:.1f} s)"
    )


def report(words: str, taken: list[float], against: list[float]) -> None:
    ratio = median(taken) / median(against)
    print(f"{words}: {ratio:.2f}x ({median(taken) * 1000:.3f} ms against {median(against) * 1000:.3f} ms)")


def main() -> None:
    """Make a database, measure, drop it."""
    aircraft, requirements = (int(word) for word in (*sys.argv[1:3], *("1000", "400")[len(sys.argv) - 1 :]))
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        taken = seconds(lambda: globals().update(actor=make_fleet(aircraft, requirements)))
        actor = globals()["actor"]
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("VACUUM ANALYZE")
        print(f"{connection.vendor}: {aircraft} x {requirements} items, made and reckoned in {taken:.0f} s")
        pages(actor)
        flights(actor)
        whole_list(actor)
        morning(actor)
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)


if __name__ == "__main__":
    main()
