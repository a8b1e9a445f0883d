"""A CSV or XLSX file as rows of text, with the row numbers people see; decides nothing about what it says."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from openpyxl import load_workbook

from fleet.common.errors import Invalid, Reason

LARGEST_FILE = 10_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 100


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
    width = len(heads)
    return Sheet(tuple(heads), tuple((n, tuple((*cells, *[""] * width)[:width])) for n, cells in rows))


def _of_text(filename: str, content: bytes) -> list[list[str]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _wrong("file", filename, "is not text in UTF-8", "save it as CSV (UTF-8) or as XLSX") from error
    first = text.split("\n", 1)[0]
    delimiter = max((",", ";", "\t"), key=first.count)
    try:
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        return [[cell.strip() for cell in line] for line in lines]
    except csv.Error as error:
        raise _wrong(
            "file", filename, f"breaks off in the middle ({error})", "save it again as CSV"
        ) from error


def _of_workbook(filename: str, content: bytes) -> list[list[str]]:
    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        return list(_cells(book.worksheets[0].iter_rows(values_only=True, max_col=MOST_COLUMNS)))
    except (zipfile.BadZipFile, KeyError, ValueError, IndexError, OSError, EOFError) as error:
        raise _wrong("file", filename, "is no XLSX workbook", "save it again as XLSX or CSV") from error


def _cells(rows: Iterable[tuple[Any, ...]]) -> Iterator[list[str]]:
    for number, row in enumerate(rows):
        if number > MOST_ROWS + 1:
            return
        yield [as_text(cell) for cell in row]


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
