"""The demonstration is loaded once for this file, as the command does it, and every story must hold in it."""

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.contrib.auth.hashers import check_password
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from fleet.common.clock import frozen, local_day, now
from fleet.models import (
    Aircraft,
    Authorisation,
    Calibration,
    Equipment,
    FlightDay,
    FlightEntry,
    FluidLot,
    Operator,
    User,
)
from fleet.selectors.aircraft import positions_of
from fleet.selectors.meters import counters_at, counters_now
from records.gather.entry import entry_facts, run_payload
from records.gather.judging import content_of
from records.models import BenchRun, Measurement, SignedRecord, TrendState
from records.seal.entry import missing_from
from records.selectors.verification import verify_aircraft
from scheduling.gather.due import due_items
from scheduling.gather.reckoned import reckon
from scheduling.models import (
    OPEN_STATES,
    Applicability,
    DueFact,
    Event,
    GroundTime,
    Relief,
    Reminder,
    Shift,
    Task,
    WeekPlan,
)
from scheduling.selectors.status import status_of

pytestmark = pytest.mark.django_db

FREE, RESTRICTED, GROUNDED = "free_to_fly", "restricted_icing", "not_releasable"
STATES = {
    "QX-SKA": FREE,
    "QX-SKB": GROUNDED,
    "QX-SKC": GROUNDED,
    "QX-SKD": GROUNDED,
    "QX-SKE": FREE,
    "QX-SKF": FREE,
    "QX-SKG": RESTRICTED,
    "QX-SKH": GROUNDED,
    "QX-SKJ": FREE,
    "QX-SKK": GROUNDED,
    "QX-SKL": FREE,
    "QX-SKM": FREE,
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo")


# The stories must come true on whatever day the demonstration is loaded.
DAYS = {
    "today": None,
    "a Sunday, the last of a month": datetime(2027, 1, 31, 22, 30, tzinfo=UTC),
    "a leap day, early": datetime(2028, 2, 29, 4, 0, tzinfo=UTC),
}


@pytest.fixture(scope="module", autouse=True, params=DAYS.values(), ids=DAYS.keys())
def told(
    request: pytest.FixtureRequest,
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    folder: Path,
) -> Iterator[str]:
    """What the command printed; everything it wrote is rolled back after this file."""
    said = StringIO()
    with (
        frozen(request.param or now()),
        django_db_blocker.unblock(),
        override_settings(DATA_FOLDER=folder),
        transaction.atomic(),
    ):
        call_command("load_demo", stdout=said)
        yield said.getvalue()
        transaction.set_rollback(True)


def aircraft(registration: str) -> Aircraft:
    return Aircraft.objects.select_related("base").get(registration=registration)


def open_work(registration: str) -> dict[str, Task]:
    tasks = Task.objects.filter(aircraft__registration=registration, state__in=OPEN_STATES)
    return {task.procedure.code: task for task in tasks.select_related("procedure") if task.procedure}


def firsts(task: Task) -> set[str]:
    return {wait.first.title for wait in task.waits.select_related("first") if wait.first.is_open}


def flow_tests(registration: str) -> list[SignedRecord]:
    rows = SignedRecord.objects.filter(aircraft__registration=registration, run__isnull=False)
    return list(rows.filter(run__procedure_version__procedure__code="panel-flow-test").order_by("sequence"))


def test_twelve_aircraft_of_two_types_stand_at_three_bases() -> None:
    rows = Aircraft.objects.values_list("aircraft_type__name", flat=True)
    assert Counter(rows) == {"Ptarmigan 300": 7, "Dovekie 19": 5}
    assert set(Aircraft.objects.values_list("base__name", flat=True)) == {"Norrvik", "Tarn Bay", "Hallin"}


def test_every_place_of_every_aircraft_holds_a_component() -> None:
    for one in Aircraft.objects.all():
        assert one.installations.filter(removed_at=None).count() == positions_of(one).count()


def test_about_eight_thousand_flights_add_up_to_days_and_meters() -> None:
    assert 7000 <= FlightEntry.objects.count() <= 9000
    shown = counters_now(Aircraft.objects.values_list("pk", flat=True))
    for one in Aircraft.objects.all():
        assert counters_at(one.pk, now()) == shown[one.pk]
        flights = FlightEntry.objects.filter(aircraft=one).values_list("minutes", flat=True)
        days = FlightDay.objects.filter(aircraft=one).values_list("minutes", flat=True)
        assert sum(flights) == sum(days)


def test_nothing_happened_in_the_future() -> None:
    assert not FlightEntry.objects.filter(off_at__gt=now()).exists()
    assert not Event.objects.filter(at__gt=now()).exists()
    assert not SignedRecord.objects.filter(sealed_at__gt=now()).exists()


def test_every_aircraft_is_in_the_state_its_story_asks_for() -> None:
    known = {one.pk: one.registration for one in Aircraft.objects.all()}
    assert {known[pk]: status.state.value for pk, status in status_of(known).items()} == STATES


def test_every_chain_is_whole() -> None:
    found = [verify_aircraft(one) for one in Aircraft.objects.all()]
    assert [flaw.words for each in found for flaw in each.flaws] == []
    assert min(each.records for each in found) >= 25


def test_every_record_is_complete_and_sealed_in_the_order_of_time() -> None:
    newest = SignedRecord.objects.filter(run__isnull=False).order_by(
        "run__procedure_version_id", "-sealed_at"
    )
    seen = {row.run.procedure_version_id: row.run for row in newest.select_related("run") if row.run}
    assert len(seen) >= 12
    assert [missing_from(entry_facts(run)) for run in seen.values()] == [()] * len(seen)
    for one in Aircraft.objects.all():
        sealed = list(one.signed_records.order_by("sequence").values_list("sealed_at", flat=True))
        assert sealed == sorted(sealed)


def test_what_is_sealed_is_what_the_tables_say() -> None:
    for registration in ("QX-SKA", "QX-SKJ", "QX-SKL"):
        for record in aircraft(registration).signed_records.order_by("sequence"):
            run = record.run
            assert run is not None
            assert run_payload(run, content_of(run)) == run.content


def test_every_aircraft_has_two_years_of_flow_tests() -> None:
    for registration in STATES:
        tests = flow_tests(registration)
        assert len(tests) >= 13
        assert tests[0].completed_on < tests[-1].completed_on - timedelta(days=560)


def test_every_reading_was_taken_with_equipment_in_calibration() -> None:
    taken = Measurement.objects.filter(point__in=["flow-left", "flow-right", "bus-voltage"])
    assert not taken.filter(equipment=None).exists()
    uses = BenchRun.objects.exclude(equipment_uses=None).values_list(
        "started_at", "equipment_uses__calibration_due"
    )
    assert all(started_at.date() <= due for started_at, due in uses if due)


def test_a_clogging_panel_is_in_alarm_and_not_yet_below_its_limit() -> None:
    state = TrendState.objects.get(aircraft__registration="QX-SKA", channel="balance")
    assert state.state == "alarm_low"
    assert flow_tests("QX-SKA")[-1].verdict == "pass"
    left = Measurement.objects.filter(run__aircraft__registration="QX-SKA", point="flow-left")
    first, last = (
        float(row.value) for row in (left.order_by("captured_at")[0], left.order_by("-captured_at")[0])
    )
    assert last < 0.95 * first
    assert "low-flow-investigation" in open_work("QX-SKA")
    assert Event.objects.filter(aircraft__registration="QX-SKA", kind__code="trend-alarm").exists()


def test_a_weak_pump_lowers_both_sides_together() -> None:
    states = dict(TrendState.objects.filter(aircraft__registration="QX-SKF").values_list("channel", "state"))
    assert states == {"together": "alarm_low", "balance": "in_control"}
    assert flow_tests("QX-SKF")[-1].verdict == "pass"


def test_nothing_healthy_is_in_alarm() -> None:
    alarmed = TrendState.objects.filter(state__in=["alarm_low", "alarm_high"])
    assert set(alarmed.values_list("aircraft__registration", flat=True)) == {"QX-SKA", "QX-SKF", "QX-SKK"}


def test_a_panel_was_replaced_yesterday_and_its_work_stands_in_order() -> None:
    work = open_work("QX-SKB")
    assert set(work) == {"panel-purge", "panel-flow-test"}
    assert firsts(work["panel-flow-test"]) == {"Panel purge"}
    event = Event.objects.filter(aircraft__registration="QX-SKB").latest("at")
    assert event.kind.code == "panel-replaced"
    assert now() - timedelta(days=2) < event.at < now()
    fitted = aircraft("QX-SKB").installations.get(position__code="wing-right-mid", removed_at=None)
    assert fitted.component.serial_number == "NP733"


def test_a_tank_was_refitted_and_its_check_is_signed() -> None:
    work = open_work("QX-SKC")
    assert set(work) == {"panel-purge", "panel-flow-test"}
    record = aircraft("QX-SKC").signed_records.latest("sequence")
    assert (record.title, record.verdict) == ("Tank refit check", "pass")


def test_two_aircraft_have_work_overdue_and_others_have_some_soon_due() -> None:
    stands: dict[str, set[tuple[str, str]]] = {}
    for item in due_items(Applicability.objects.filter(is_active=True)):
        status = reckon(item).result.status.value
        stands.setdefault(status, set()).add((item.subject, item.requirement.code))
    due_today = stands.pop("due", set())
    late = stands.pop("overdue") | {one for one in due_today if one[0] == "QX-SKD"}
    assert late == {
        ("QX-SKD", "annual-inspection"),
        ("QX-SKD", "beacon-inspection"),
        ("QX-SKH", "inspection-200"),
        ("QX-SKH", "slinger-check"),
    }
    assert len(stands.pop("due_soon") | due_today) >= 6
    assert len(stands.pop("ok")) >= 240
    assert stands == {}


def test_the_due_list_knows_every_item_that_applies() -> None:
    active = Applicability.objects.filter(is_active=True)
    assert set(DueFact.objects.values_list("pk", flat=True)) == set(active.values_list("pk", flat=True))
    assert not active.filter(done_on=None, component=None).exists()


def test_an_inspection_was_begun_and_put_aside() -> None:
    run = BenchRun.objects.get(aircraft__registration="QX-SKD", state="paused")
    assert run.task.procedure is not None
    assert run.task.procedure.code == "annual-inspection"
    assert run.answers.count() == 2


def test_a_failed_flow_test_is_sealed_as_it_is_and_calls_for_more_work() -> None:
    record = aircraft("QX-SKK").signed_records.latest("sequence")
    assert (record.title, record.verdict) == ("Panel flow test", "fail")
    work = open_work("QX-SKK")
    assert {"low-flow-investigation", "panel-purge", "panel-flow-test"} <= set(work)
    assert firsts(work["panel-flow-test"]) == {"Panel purge"}
    assert firsts(work["panel-purge"]) == {"Low flow investigation"}


def test_one_relief_runs_and_its_open_work_restricts() -> None:
    relief = Relief.objects.get(closed_at=None)
    assert relief.aircraft.registration == "QX-SKG"
    assert relief.ends_at is not None
    assert relief.ends_at > now()
    assert set(open_work("QX-SKG")) >= {"panel-purge", "panel-flow-test"}


def test_one_aircraft_has_stood_for_seventy_days() -> None:
    last = FlightDay.objects.filter(aircraft__registration="QX-SKM").latest("day").day
    assert 70 <= (local_day("Europe/Oslo") - last).days <= 80


def test_stock_holds_what_may_not_be_used() -> None:
    today = local_day("Europe/Oslo")
    assert FluidLot.objects.filter(state="approved", expires_on__lt=today).count() == 1
    assert FluidLot.objects.filter(state="quarantined").count() == 1
    held = Calibration.objects.filter(due_on__gte=today).values("equipment")
    lapsed = Equipment.objects.filter(needs_calibration=True).exclude(pk__in=held)
    assert list(lapsed.values_list("code", flat=True)) == ["norrvik-balance"]


def test_one_technician_may_not_sign_today() -> None:
    today = local_day("Europe/Oslo")
    holding = Authorisation.objects.filter(valid_to__gte=today).values("user")
    out = User.objects.exclude(pk__in=holding).filter(certificates__isnull=False)
    assert list(out.values_list("username", flat=True)) == ["siv"]


def test_people_work_and_aircraft_stand_in_the_weeks_ahead() -> None:
    ahead = now() + timedelta(days=7)
    assert Shift.objects.filter(starts_at__gt=ahead).count() >= 50
    assert set(GroundTime.objects.values_list("aircraft__registration", flat=True)) == set(STATES)


def test_a_week_at_the_main_base_is_published() -> None:
    plans = WeekPlan.objects.all()
    assert {(plan.base.name, plan.state) for plan in plans} == {("Norrvik", "published")}
    planned = Task.objects.filter(slots__plan__in=plans)
    assert planned.count() >= 2
    assert set(planned.values_list("state", flat=True)) == {"planned"}
    assert not planned.filter(assigned_to=None).exists()


def test_director_and_controller_have_reminders_to_answer() -> None:
    for username in ("marit", "edda"):
        told = Reminder.objects.filter(recipient__username=username, settled_at=None)
        assert told.filter(applicability__aircraft__registration="QX-SKD").exists(), username


def test_every_photograph_is_the_one_its_digest_names() -> None:
    run = flow_tests("QX-SKE")[-1].run
    assert run is not None
    photo = run.photos.get()
    with default_storage.open(photo.file.name) as file:
        assert file.read(8) == b"\x89PNG\r\n\x1a\n"


def test_passwords_are_random_and_told_once_in_a_private_file(told: str, folder: Path) -> None:
    place = folder / "logins.txt"
    assert place.stat().st_mode & 0o777 == 0o600
    rows = [line.split()[:2] for line in place.read_text().splitlines()[1:]]
    assert len({password for _, password in rows}) == len(rows) == User.objects.count() == 11
    for username, password in rows:
        assert check_password(password, User.objects.get(username=username).password)
        assert username not in password
        assert password in told


def test_it_refuses_where_the_operator_is_known_and_writes_nothing() -> None:
    before = (User.objects.count(), FlightEntry.objects.count(), Operator.objects.count())
    for arguments in ([], ["--fresh-check"]):
        with pytest.raises(CommandError, match="Skerry Air Links is in this database already"):
            call_command("load_demo", *arguments, stdout=StringIO())
    assert (User.objects.count(), FlightEntry.objects.count(), Operator.objects.count()) == before


def test_the_guards_still_stand() -> None:
    with pytest.raises(Exception, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE records_signedrecord SET title = 'other'")
