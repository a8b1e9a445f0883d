"""`manage.py import_flights`: the same import from the command line."""

import io
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from fleet.models import FlightEntry
from tests import makers

pytestmark = pytest.mark.django_db

HEADING = "registration,date,block_off,minutes,landings,reference\n"
TWO = HEADING + "QX-SKA,2025-03-01,09:30,95,2,L1\nqx-ska,1 Mar 2025,11:30,1:05,,L2\n"
BAD = HEADING + (
    "QX-SKA,2025-03-01,09:30,95,2,L1\n"
    "QX-???,2025-03-01,09:30,95,2,L2\n"
    "QX-SKA,2025-02-30,09:30,0,x,L3\n"
    "QX-SKA,2025-03-01,25:00,1441,1,L4\n"
    "QX-SKA,2099-03-01,09:30,95,1,L5\n"
    "QX-SKA,2025-03-01,09:30,95,1,L6,what,is,this\n"
)


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(registration="QX-SKA")


def run(path: Path, *more: str) -> str:
    out = io.StringIO()
    call_command("import_flights", str(path), *more, stdout=out, stderr=out)
    return out.getvalue()


def test_the_command_checks_imports_and_repeats(house: makers.House, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(TWO)

    assert "2 flights would be imported" in run(path, "--dry-run")
    assert FlightEntry.objects.count() == 0
    assert "2 flights imported, 0 known already" in run(path)
    assert "0 flights imported, 2 known already" in run(path)


def test_the_command_names_bad_rows_and_leaves_them_out_only_when_told(
    house: makers.House, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    path.write_text(BAD)

    with pytest.raises(CommandError, match="5 of 6 rows"):
        run(path)
    assert FlightEntry.objects.count() == 0
    said = run(path, "--leave-out-bad-rows")
    assert "row 4, date “2025-02-30”: is not a date; write 2026-03-14 or 14 Mar 2026" in said
    assert FlightEntry.objects.count() == 1


def test_the_command_creates_aircraft_and_takes_columns(house: makers.House, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("who,date,minutes\nQX-NEW,2025-03-01,30\n")

    with pytest.raises(CommandError, match="no such file"):
        run(tmp_path / "nothing.csv")
    with pytest.raises(CommandError, match="FIELD=HEADING"):
        run(path, "--column", "who")
    run(path, "--column", "registration=who", "--create-aircraft", house.aircraft_type.code, house.base.code)
    assert FlightEntry.objects.get().aircraft.registration == "QX-NEW"


def test_the_command_asks_which_operator_where_there_are_several(house: makers.House, tmp_path: Path) -> None:
    makers.OperatorMaker()
    path = tmp_path / "log.csv"
    path.write_text(TWO)

    with pytest.raises(CommandError, match="--operator CODE"):
        run(path)
    assert "2 flights imported" in run(path, "--operator", house.operator.code)
