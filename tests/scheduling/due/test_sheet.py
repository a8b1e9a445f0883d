"""A file of rows is read as its writer meant it, or refused: no cell vanishes and none moves to another column."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import pytest
from openpyxl import Workbook

from fleet.common.errors import Invalid
from scheduling.gather.sheet import Sheet, read_sheet

WANTED = Sheet(("code", "title"), ((2, ("a", "One, two; three")),))


def workbook(*rows: list[Any], merged: str = "") -> bytes:
    book = Workbook()
    sheet = book.worksheets[0]
    for row in rows:
        sheet.append(row)
    if merged:
        sheet.merge_cells(merged)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        b'code,title\na,"One, two; three"\n',
        b'\xef\xbb\xbfcode;title\r\na;"One, two; three"\r\n',
        b"code\ttitle\na\tOne, two; three\n",
        b'code;title;;\na;"One, two; three";;\n',
        workbook(["code", "title"], ["a", "One, two; three"]),
    ],
)
def test_the_same_rows_come_from_every_writing(content: bytes) -> None:
    assert read_sheet("rows", content) == WANTED


def test_empty_lines_before_the_heads_do_not_hide_the_separator() -> None:
    assert read_sheet("rows.csv", b"\n\ncode;title\na;One\n").rows == ((4, ("a", "One")),)


def test_a_first_line_may_name_the_separator() -> None:
    found = read_sheet("rows.csv", b"sep=;\r\ncode;title\r\na;One\r\n")
    assert (found.columns, found.rows) == (("code", "title"), ((3, ("a", "One")),))


def test_separators_inside_quoted_heads_do_not_count() -> None:
    found = read_sheet("rows.csv", b'"code, our number, new";title\na;One\n')
    assert found.columns == ("code, our number, new", "title")


def test_a_cell_beyond_the_last_column_is_refused_by_its_row() -> None:
    with pytest.raises(Invalid) as refused:
        read_sheet("rows.csv", b"code,title,hours\na,One, with a comma,200\n")
    (reason,) = refused.value.reasons
    assert (reason.field, reason.value) == ("row 2", "200")
    assert "quotes" in reason.remedy


def test_a_formula_without_a_result_is_refused_and_not_read_as_empty() -> None:
    with pytest.raises(Invalid) as refused:
        read_sheet("rows.xlsx", workbook(["code", "months", "hours"], ["a", 12, "=100+100"]))
    (reason,) = refused.value.reasons
    assert (reason.field, reason.value) == ("row 2", "=100+100")
    assert "save it again" in reason.remedy


def test_a_formula_whose_result_is_an_empty_text_is_an_empty_cell() -> None:
    made = io.BytesIO(workbook(["code", "hours"], ["a", '=IF(1,"","")']))
    reckoned = io.BytesIO()
    with zipfile.ZipFile(made) as before, zipfile.ZipFile(reckoned, "w") as after:
        for name in before.namelist():
            content = before.read(name)
            if name == "xl/worksheets/sheet1.xml":
                assert content.count(b'<c r="B2">') == 1
                content = content.replace(b'<c r="B2">', b'<c r="B2" t="str">')
            after.writestr(name, content)
    assert read_sheet("rows.xlsx", reckoned.getvalue()).rows == ((2, ("a", "")),)


def test_only_the_first_of_merged_cells_holds_the_value() -> None:
    found = read_sheet("rows.xlsx", workbook(["code", "title"], ["a", "One"], ["b", "Two"], merged="A2:A3"))
    assert found.rows == ((2, ("a", "One")), (3, ("", "Two")))
