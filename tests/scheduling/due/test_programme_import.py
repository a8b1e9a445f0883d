"""A programme comes in from a file: looked at first, every fault by row and column, then all of it or nothing."""

from __future__ import annotations

import io
from datetime import date, timedelta

import pytest
from openpyxl import Workbook

from fleet.common.errors import Invalid, NotAllowed
from scheduling.models import Applicability, DueFact, Requirement
from scheduling.services.programme_import import Imported, Kind, Upload, import_programme
from tests.makers import House, make_house
from tests.scheduling.due.makers import make_requirement

pytestmark = pytest.mark.django_db

GOOD = """code,title,ata,source,months,hours,soon hours,anchor
check-100,100-hour check,05-20,P3 page 4,,100:00,10,from_due
annual,Annual inspection,05-10,P3 page 1,12,,,
both,Hours or months,30-11,P3 page 7,24,2000,,
"""
BAD = """code,title,ata,source,months,hours
ok,Fine,05-20,P3,12,
zero,Zero hours,05-20,P3,,0
half,Half months,05-20,P3,1.5,
,No code,05-20,P3,12,
ok,Twice,05-20,P3,12,
none,No limit,05-20,P3,,
"""


@pytest.fixture
def house() -> House:
    return make_house()


def bring(house: House, content: str | bytes, kind: Kind = Kind.PROGRAMME, **values: object) -> Imported:
    data = content.encode() if isinstance(content, str) else content
    upload = Upload(kind=kind, filename="programme.csv", content=data, **values)  # type: ignore[arg-type]
    return import_programme(actor=house.actor("controller"), upload=upload)


def test_a_dry_run_says_what_would_be_done_and_writes_nothing(house: House) -> None:
    found = bring(house, GOOD)
    assert (found.rows, found.created, found.changed, found.same, found.written) == (3, 3, 0, 0, False)
    assert found.mapping["soon_hours"] == "soon hours"
    assert not Requirement.objects.exists()


def test_the_lines_come_in_with_their_limits(house: House) -> None:
    bring(house, GOOD, dry_run=False, apply=False)
    limits = {row.code: row.limits for row in Requirement.objects.all()}
    assert limits["check-100"] == {
        "measure": "hours",
        "every": "100:00",
        "soon": "10:00",
        "anchor": "from_due",
    }
    assert limits["annual"] == {"measure": "months", "every": 12}
    assert limits["both"] == {
        "combine": "first",
        "of": [{"measure": "months", "every": 24}, {"measure": "hours", "every": "2000:00"}],
    }


def test_the_same_file_again_changes_nothing(house: House) -> None:
    bring(house, GOOD, dry_run=False, apply=False)
    again = bring(house, GOOD, dry_run=False, apply=False)
    assert (again.created, again.changed, again.same) == (0, 0, 3)
    assert Requirement.objects.count() == 3


def test_every_fault_names_its_row_column_value_and_remedy(house: House) -> None:
    found = bring(house, BAD)
    assert [(e.row, e.column, e.value) for e in found.errors] == [
        (3, "hours", "0:00"),
        (4, "months", "1.5"),
        (5, "code", ""),
        (6, "code", "ok"),
        (7, "hours", ""),
    ]
    assert all(error.remedy for error in found.errors)


def test_with_one_fault_nothing_comes_in(house: House) -> None:
    with pytest.raises(Invalid) as caught:
        bring(house, BAD, dry_run=False)
    assert caught.value.code == "import_refused"
    assert caught.value.reasons[0].field == "row 3, hours"
    assert not Requirement.objects.exists()


def test_columns_of_other_names_are_mapped(house: House) -> None:
    text = "No.;What;Chap;Doc;Calendar\nA-1;Look at it;30;P3;12\n"
    mapping = {"code": "No.", "title": "What", "ata": "Chap", "source": "Doc", "months": "Calendar"}
    assert bring(house, text, mapping=mapping).created == 1
    with pytest.raises(Invalid) as caught:
        bring(house, text)
    assert caught.value.reasons[0].field == "mapping.code"


def test_a_workbook_is_read_like_text(house: House) -> None:
    book = Workbook()
    book.active.append(["code", "title", "ata", "source", "date", "hours"])
    book.active.append(
        ["ad-1", "Look once", "27", "Notice 7", date(2099, 5, 1), timedelta(hours=1304, minutes=30)]
    )
    file = io.BytesIO()
    book.save(file)
    bring(house, file.getvalue(), dry_run=False, apply=False)
    assert Requirement.objects.get().limits["of"] == [
        {"measure": "date", "every": "2099-05-01"},
        {"measure": "hours", "every": "1304:30"},
    ]


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 no workbook", b"\xff\xfe\x00c", b'code,title\n"a,b\n'])
def test_a_file_that_is_none_is_refused_in_words(house: House, content: bytes) -> None:
    with pytest.raises(Invalid) as caught:
        bring(house, content)
    assert caught.value.reasons[0].remedy


def test_opening_balances_come_in_with_the_item_they_belong_to(house: House) -> None:
    make_requirement(house.operator)
    text = (
        f"code,aircraft,date,hours,proof\ncheck-100,{house.aircraft.registration},2025-03-01,980:30,card 17\n"
    )
    bring(house, text, Kind.LAST_DONE, dry_run=False)
    applied = Applicability.objects.get()
    assert (applied.done_on, applied.last_done["counters"], applied.proof) == (
        date(2025, 3, 1), {"hours": 58_830}, "card 17"
    )  # fmt: skip
    assert DueFact.objects.get().due_minutes == 64_830


def test_opening_balances_that_make_no_sense_are_named_and_none_comes_in(house: House) -> None:
    make_requirement(house.operator)
    registration = house.aircraft.registration
    text = (
        "code,aircraft,date,hours\n"
        f"check-100,{registration},2025-03-01,900:00\n"
        f"check-100,QX-NONE,2025-03-01,900:00\n"
        f"unknown,{registration},2025-03-01,900:00\n"
    )
    found = bring(house, text, Kind.LAST_DONE)
    assert [(e.row, e.column) for e in found.errors] == [(3, "aircraft"), (4, "code")]
    too_much = f"code,aircraft,date,hours\ncheck-100,{registration},2999-01-01,9900:00\n"
    found = bring(house, too_much, Kind.LAST_DONE)
    assert [(e.row, e.column) for e in found.errors] == [(2, "date"), (2, "hours")]
    assert not Applicability.objects.exists()


def test_who_may_not_edit_the_programme_brings_in_nothing(house: House) -> None:
    upload = Upload(Kind.PROGRAMME, "p.csv", GOOD.encode(), dry_run=False)
    for role in ("technician", "inspector", "auditor"):
        with pytest.raises(NotAllowed):
            import_programme(actor=house.actor(role), upload=upload)
    assert not Requirement.objects.exists()
