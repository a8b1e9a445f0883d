"""What the database refuses by itself, whoever writes: through models, in bulk, or in plain SQL."""

from collections.abc import Callable
from datetime import date
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

import pytest
from django.db import Error, connection, transaction
from django.db.models import F

from fleet.common.guards import Guard, install, lift
from fleet.models import (
    Calibration,
    FlightDay,
    FlightEntry,
    Installation,
    LifeLimit,
    Meter,
    Reading,
    TrailEntry,
    Uplift,
)
from tests import makers
from tests.makers import at

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> makers.House:
    return makers.make_house()


def refused(act: Callable[[], Any]) -> str:
    """What the database says; fails where it accepts."""
    with pytest.raises(Error) as caught, transaction.atomic():
        act()
    return str(caught.value)


# ---------------------------------------------------------------- installations


def row(
    house: makers.House, position: str, component: Any, since: int, until: int | None = None
) -> Installation:
    return Installation.objects.create(
        aircraft=house.aircraft,
        position=house.position(position),
        component=component,
        fitted_at=at(since),
        removed_at=None if until is None else at(until),
    )


def panel(house: makers.House) -> Any:
    return makers.ComponentMaker(operator=house.operator, kind=house.position("panel-left").kind)


def test_two_components_never_share_a_position(house: makers.House) -> None:
    row(house, "panel-left", panel(house), -10)
    other = panel(house)

    assert "overlap" in refused(lambda: row(house, "panel-left", other, -5))
    assert Installation.objects.count() == 1


def test_a_component_is_never_in_two_places(house: makers.House) -> None:
    part = panel(house)
    row(house, "panel-left", part, -10)

    assert "overlap" in refused(lambda: row(house, "panel-right", part, -5))


@pytest.mark.parametrize(("since", "until"), [(-8, -6), (-12, -9), (-12, -4), (-6, None), (-10, -5)])
def test_a_stretch_that_overlaps_a_closed_one_is_refused(
    house: makers.House, since: int, until: int | None
) -> None:
    part = panel(house)
    row(house, "panel-left", part, -10, -5)

    assert "overlap" in refused(lambda: row(house, "panel-right", part, since, until))


@pytest.mark.parametrize(("since", "until"), [(-5, None), (-12, -10), (-5, -4)])
def test_stretches_that_only_touch_are_accepted(house: makers.House, since: int, until: int | None) -> None:
    part = panel(house)
    row(house, "panel-left", part, -10, -5)

    row(house, "panel-right", part, since, until)

    assert Installation.objects.count() == 2


def test_overlaps_are_refused_in_bulk_and_by_update(house: makers.House) -> None:
    part = panel(house)
    first = row(house, "panel-left", part, -10, -5)
    second = row(house, "panel-right", part, -5, -2)
    bulk = Installation(
        aircraft=house.aircraft,
        position=house.position("panel-left"),
        component=panel(house),
        fitted_at=at(-8),
    )

    assert "overlap" in refused(lambda: Installation.objects.bulk_create([bulk]))
    assert "overlap" in refused(lambda: Installation.objects.filter(pk=first.pk).update(removed_at=at(-4)))
    assert "overlap" in refused(lambda: Installation.objects.filter(pk=second.pk).update(fitted_at=at(-6)))


def test_overlaps_are_refused_in_plain_sql(house: makers.House) -> None:
    first = row(house, "panel-left", panel(house), -10, -5)
    row(house, "panel-left", panel(house), -5)
    statement = "UPDATE fleet_installation SET removed_at = NULL WHERE id = %s"

    assert refused(lambda: connection.cursor().execute(statement, [first.pk]))


def test_an_installation_ends_after_it_begins_and_never_runs_backwards(house: makers.House) -> None:
    part = panel(house)

    assert "installation_ends_after_it_begins" in refused(lambda: row(house, "panel-left", part, -5, -5))
    installed = row(house, "panel-left", part, -5)
    less = Installation.objects.filter(pk=installed.pk)
    Installation.objects.filter(pk=installed.pk).update(fitted_minutes=100)
    assert "installation_time_not_negative" in refused(
        lambda: less.update(removed_at=at(-1), removed_minutes=99)
    )


def test_only_a_removed_part_has_a_disposition_and_another_method_is_described(house: makers.House) -> None:
    installed = Installation.objects.filter(pk=row(house, "panel-left", panel(house), -5).pk)

    assert "disposition_only_of_a_removed_part" in refused(lambda: installed.update(disposition="tag"))
    installed.update(removed_at=at(-1), disposed_on=makers.DAY, disposition="tag")
    assert "other_disposition_is_described" in refused(lambda: installed.update(disposition="other"))


# ---------------------------------------------------------------- meters and readings


def meter(house: makers.House, kind: str = "minutes") -> Meter:
    return Meter.objects.get(aircraft=house.aircraft, kind=kind)


def state(of: Meter, days: int, value: int, kind: str = "reading") -> Reading:
    return Reading.objects.create(
        meter=of,
        at=at(days),
        value=value,
        kind=kind,
        reason="why" if kind == "correction" else "",
        posted_at=at(0),
    )


def test_a_meter_never_runs_backwards_without_a_correction_or_a_void_flight(house: makers.House) -> None:
    one = meter(house)
    lower = Meter.objects.filter(pk=one.pk)

    assert "backwards" in refused(lambda: lower.update(value=F("value") - 1))
    lower.update(value=F("value") - 1, last_correction=state(one, -1, 59_999, "correction"))
    assert "backwards" in refused(lambda: lower.update(value=F("value") - 1))
    lower.update(value=F("value") - 1, last_void=makers.FlightMaker(aircraft=house.aircraft))
    one.refresh_from_db()
    assert one.value == 59_998


def test_a_reading_is_never_lower_than_an_earlier_one(house: makers.House) -> None:
    state(meter(house), -10, 61_000)

    assert "lower" in refused(lambda: state(meter(house), -9, 60_999))
    bulk = Reading(meter=meter(house), at=at(-9), value=60_999, posted_at=at(0))
    assert "lower" in refused(lambda: Reading.objects.bulk_create([bulk]))


def test_a_reading_is_never_higher_than_a_later_one(house: makers.House) -> None:
    state(meter(house), -10, 61_000)

    assert "lower" in refused(lambda: state(meter(house), -11, 61_001))
    assert state(meter(house), -11, 61_000).pk


@pytest.mark.parametrize("day_of_correction", [-10, -9])
def test_after_a_correction_readings_may_start_lower(house: makers.House, day_of_correction: int) -> None:
    state(meter(house), -10, 99_000)
    state(meter(house), day_of_correction, 60_500, "correction")

    assert state(meter(house), -8, 60_600).pk
    assert "lower" in refused(lambda: state(meter(house), -7, 60_500))


def test_a_correction_needs_a_reason_and_a_moment_has_one_reading(house: makers.House) -> None:
    one = meter(house)

    def without_reason() -> None:
        Reading.objects.create(meter=one, at=at(-1), value=1, kind="correction", posted_at=at(0))

    assert "correction_has_a_reason" in refused(without_reason)
    state(one, -1, 60_000)
    assert refused(lambda: state(one, -1, 60_000))


# ---------------------------------------------------------------- flights


@pytest.mark.parametrize(
    ("minutes", "name"),
    [(0, "flight_longer_than_nothing"), (-5, "minutes"), (1_441, "flight_within_a_day")],
)
def test_a_flight_of_no_time_negative_time_or_more_than_a_day_is_refused(minutes: int, name: str) -> None:
    aircraft = makers.AircraftMaker()

    assert name in refused(lambda: makers.FlightMaker(aircraft=aircraft, minutes=minutes))
    bulk = FlightEntry(aircraft=aircraft, day=makers.DAY, off_at=at(0), minutes=minutes, reference="x")
    assert refused(lambda: FlightEntry.objects.bulk_create([bulk]))
    assert FlightEntry.objects.count() == 0


def test_a_flight_of_one_minute_and_of_a_whole_day_are_accepted() -> None:
    assert makers.FlightMaker(minutes=1).pk
    assert makers.FlightMaker(minutes=1_440).pk


def test_the_figures_of_a_flight_never_change_and_a_void_one_stays_void() -> None:
    flight = makers.FlightMaker()
    rows = FlightEntry.objects.filter(pk=flight.pk)

    assert "figures" in refused(lambda: rows.update(minutes=61))
    assert "figures" in refused(lambda: rows.update(off_at=at(1)))
    assert "void it" in refused(
        lambda: connection.cursor().execute("UPDATE fleet_flightentry SET reference = 'y'")
    )
    assert "void_flight_has_a_reason" in refused(lambda: rows.update(voided_at=at(0)))
    rows.update(voided_at=at(0), void_reason="wrong aircraft")
    assert "void it" in refused(lambda: rows.update(voided_at=None))


def test_a_flight_is_never_deleted() -> None:
    flight = makers.FlightMaker()

    assert "never deleted" in refused(flight.delete)
    assert "never deleted" in refused(FlightEntry.objects.all().delete)
    assert "never deleted" in refused(lambda: connection.cursor().execute("DELETE FROM fleet_flightentry"))


def test_the_sums_of_a_day_hold_at_least_a_minute_per_flight(house: makers.House) -> None:
    def wrong() -> None:
        FlightDay.objects.create(aircraft=house.aircraft, day=makers.DAY, flights=2, minutes=1)

    assert "flight_day_adds_up" in refused(wrong)


def test_a_life_limit_is_above_zero_and_names_its_source(house: makers.House) -> None:
    kind = house.position("pump").kind

    def limit(value: int, source: str) -> None:
        LifeLimit.objects.create(
            operator=house.operator, kind=kind, parameter="minutes", limit=value, source=source
        )

    assert "life_limit_above_zero" in refused(lambda: limit(0, "manual"))
    assert "life_limit_names_its_source" in refused(lambda: limit(10, ""))


# ---------------------------------------------------------------- append-only


def make_append_only(house: makers.House) -> dict[str, Any]:
    lot = makers.FluidLotMaker(operator=house.operator, base=house.base)
    return {
        "reading": Reading.objects.filter(meter=meter(house)).get(),
        "trail": TrailEntry.objects.create(
            operator=house.operator,
            at=at(0),
            actor_name="x",
            action="a",
            subject="s",
            subject_id="1",
            words="w",
        ),
        "uplift": Uplift.objects.create(
            lot=lot, aircraft=house.aircraft, at=at(0), amount="1", unit="L", volume_ml=1000
        ),
        "calibration": makers.CalibrationMaker(),
    }


@pytest.mark.parametrize(
    ("which", "change"),
    [
        ("reading", {"value": 1}),
        ("trail", {"words": "nothing happened"}),
        ("uplift", {"amount": "9"}),
        ("calibration", {"due_on": date(2098, 1, 1)}),
    ],
)
def test_append_only_rows_are_never_changed_and_never_deleted(
    house: makers.House, which: str, change: dict[str, Any]
) -> None:
    one = make_append_only(house)[which]
    rows, table = type(one)._default_manager.filter(pk=one.pk), type(one)._meta.db_table
    for name, value in change.items():
        setattr(one, name, value)

    assert "never changed" in refused(one.save)
    assert "never changed" in refused(lambda: rows.update(**change))
    assert "never changed" in refused(lambda: type(one)._default_manager.bulk_update([one], list(change)))
    assert "never changed" in refused(
        lambda: connection.cursor().execute(f"UPDATE {table} SET id = id WHERE id = {one.pk}")
    )
    assert "never deleted" in refused(rows.delete)
    assert "never deleted" in refused(
        lambda: connection.cursor().execute(f"DELETE FROM {table} WHERE id = {one.pk}")
    )
    assert rows.count() == 1
    assert {name: getattr(rows.get(), name) for name in change} != change


# ---------------------------------------------------------------- every guard still stands


def named_guards() -> list[Guard]:
    """Every guard of every migration; a later one of the same name replaces the earlier."""
    found: dict[str, Guard] = {}
    for app in ("fleet", "scheduling", "records"):
        names = sorted(module.name for module in iter_modules(import_module(f"{app}.migrations").__path__))
        for name in names:
            guards = getattr(import_module(f"{app}.migrations.{name}"), "GUARDS", ())
            found |= {guard.name: guard for guard in guards}
    return [*found.values()]


def standing() -> dict[str, str]:
    """Name and table of every trigger the database has."""
    if connection.vendor == "sqlite":
        statement = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
    else:
        statement = (
            "SELECT t.tgname, c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE NOT t.tgisinternal AND t.tgenabled <> 'D'"
        )
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return dict(cursor.fetchall())


def test_every_guard_named_in_a_migration_still_stands_after_all_migrations() -> None:
    wanted = {guard.name: guard.table for guard in named_guards()}

    assert len(wanted) > 20
    assert {name: table for name, table in standing().items() if name in wanted} == wanted


def test_guards_lifted_to_alter_a_table_stand_again_once_installed() -> None:
    guards = [guard for guard in named_guards() if guard.table == "fleet_trailentry"]
    names = {guard.name for guard in guards}
    editor = connection.schema_editor()

    lift(guards).code(None, editor)
    assert names.isdisjoint(standing())
    install(guards).code(None, editor)
    assert names <= set(standing())
    assert names


@pytest.mark.postgres
def test_the_exclusions_that_see_concurrent_writers_still_stand() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT conname FROM pg_constraint WHERE contype = 'x' AND conname LIKE 'installation%'"
        )
        names = {name for (name,) in cursor.fetchall()}

    assert names == {"installation_component_never_overlaps", "installation_position_never_overlaps"}


def test_calibrations_hold_a_while() -> None:
    equipment = makers.EquipmentMaker(calibrated=False)

    def wrong() -> None:
        Calibration.objects.create(
            equipment=equipment, done_on=makers.DAY, due_on=makers.DAY, certificate="same day"
        )

    assert "calibration_holds_a_while" in refused(wrong)
