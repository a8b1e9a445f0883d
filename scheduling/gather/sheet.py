"""A CSV or XLSX file as rows of text, with the row numbers people see; decides nothing about what it says."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import islice
from typing import Any

from openpyxl import load_workbook

from fleet.common.errors import Invalid, Reason

LARGEST_FILE = 10_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 100
QUOTED = re.compile(r'"[^"]*"')
ANNOUNCED = re.compile(r"sep=([,;\t])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Sheet:
    """The heads of the columns as written, and every row that holds something, by its number in the file."""

    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def read_sheet(filename: str, content: bytes) -> Sheet:
    """Read a file by what it is, not by its name: XLSX begins as a ZIP archive, everything else is CSV in UTF-8."""
    if len(content) > LARGEST_FILE:
        raise _wrong("file", filename, "is too large", "split it: at most 10 MB")
    lines = (
        _of_workbook(filename, content) if content.startswith(b"PK\x03\x04") else _of_text(filename, content)
    )
    numbered = [(number, cells) for number, cells in enumerate(lines, start=1) if any(cells)]
    if not numbered:
        raise _wrong("file", filename, "is empty", "choose the file again: the first row names the columns")
    (_, heads), rows = numbered[0], numbered[1:]
    named = [head for head in heads if head]
    if len(named) != len({head.casefold() for head in named}):
        raise _wrong("file", filename, "names a column twice", "give each column one name")
    if len(rows) > MOST_ROWS:
        raise _wrong("file", filename, "has too many rows", f"split it: at most {MOST_ROWS} rows")
    width = max((place for place, head in enumerate(heads, start=1) if head), default=0)
    for number, cells in rows:
        if any(cells[width:]):
            raise _stray(number, next(cell for cell in cells[width:] if cell))
    return Sheet(
        tuple(heads[:width]), tuple((n, tuple((*cells, *[""] * width)[:width])) for n, cells in rows)
    )


def _stray(number: int, value: str) -> Invalid:
    """A cell that belongs to no column: mostly a comma inside a text without quotes, which moves all after it."""
    remedy = "put a text that holds the separator in quotes, or give the column a name"
    return _wrong(f"row {number}", value, "stands to the right of the last named column", remedy)


def _of_text(filename: str, content: bytes) -> list[list[str]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _wrong("file", filename, "is not text in UTF-8", "save it as CSV (UTF-8) or as XLSX") from error
    delimiter, is_announced = _delimiter(text)
    try:
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        cells = [[cell.strip() for cell in line] for line in lines]
        return [[], *cells[1:]] if is_announced else cells
    except csv.Error as error:
        raise _wrong(
            "file", filename, f"breaks off in the middle ({error})", "save it again as CSV"
        ) from error


def _delimiter(text: str) -> tuple[str, bool]:
    """What parts the cells, and whether a first line such as `sep=;` says so; quoted separators do not count."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    announced = ANNOUNCED.fullmatch(text.split("\n", 1)[0].rstrip("\r"))
    if announced:
        return announced[1], True
    return max((",", ";", "\t"), key=QUOTED.sub("", first).count), False


def _of_workbook(filename: str, content: bytes) -> list[list[str]]:
    try:
        _refuse_formulas_without_result(content)
        return [[as_text(cell) for cell in row] for row in _first_sheet(content, data_only=True)]
    except (zipfile.BadZipFile, KeyError, ValueError, IndexError, OSError, EOFError) as error:
        raise _wrong("file", filename, "is no XLSX workbook", "save it again as XLSX or CSV") from error


def _first_sheet(content: bytes, *, data_only: bool, values_only: bool = True) -> Iterator[tuple[Any, ...]]:
    book = load_workbook(io.BytesIO(content), read_only=True, data_only=data_only)
    rows = book.worksheets[0].iter_rows(values_only=values_only, max_col=MOST_COLUMNS)
    return islice(rows, MOST_ROWS + 2)


def _refuse_formulas_without_result(content: bytes) -> None:
    """A formula that no spreadsheet has reckoned yet reads as an empty cell: a limit would vanish unseen.

    One whose result is an empty text is marked as text, and is as good as an empty cell.
    """
    formulas = _first_sheet(content, data_only=False)
    results = _first_sheet(content, data_only=True, values_only=False)
    for number, (written, reckoned) in enumerate(zip(formulas, results, strict=True), start=1):
        for cell, result in zip(written, reckoned, strict=True):
            if cell is not None and result.value is None and result.data_type != "str":
                remedy = "open the workbook in a spreadsheet and save it again, or write the value itself"
                raise _wrong(f"row {number}", as_text(cell), "is a formula without a result", remedy)


def as_text(cell: Any) -> str:
    """A cell as a person would write it: a date as 2026-03-14, a duration as 1304:30, 12.0 as 12."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time(0) else cell.isoformat(" ")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        minutes = round(cell.total_seconds() / 60)
        return f"{minutes // 60}:{minutes % 60:02d}"
    if isinstance(cell, time):
        return f"{cell.hour}:{cell.minute:02d}"
    if isinstance(cell, float):
        return format(Decimal(repr(cell)).normalize(), "f")
    return str(cell).strip()


def _wrong(field: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field, value[:60], remedy)
    return Invalid("bad_file", reason.sentence(), reason)
