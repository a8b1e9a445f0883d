"""The due list as CSV and XLSX: plain values, and no cell that a spreadsheet would take for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from fleet.common.errors import Invalid, Reason
from fleet.quantities import format_minutes
from scheduling.due.explain import STATUS_WORDS
from scheduling.due.terms import DueStatus
from scheduling.models import Consequence
from scheduling.selectors.due_list import SHOWN

HEADS = {
    "registration": "Aircraft",
    "subject": "Component",
    "code": "Code",
    "title": "Title",
    "ata": "ATA",
    "consequence": "Stops",
    "base__name": "Base",
    "state": "State",
    "due_day": "Due by calendar",
    "lawful_day": "Last lawful day",
    "due_minutes": "Due at flight hours",
    "due_landings": "Due at landings",
    "due_cycles": "Due at engine cycles",
    "projected_day": "Projected",
    "earliest_day": "80 % from",
    "latest_day": "80 % to",
}
CONSEQUENCES = {value: str(label) for value, label in Consequence.choices}
DAYS = frozenset({"due_day", "lawful_day", "projected_day", "earliest_day", "latest_day"})
MOST_ROWS_OF_A_WORKBOOK = 100_000
DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")

Value = str | int | date | None
Row = tuple[Any, ...]


def values_of(state: DueStatus, shown: Row) -> list[Value]:
    """One row of the due list as plain values under HEADS."""
    kept = dict(zip(SHOWN, shown, strict=True), state=state)
    return [_value(name, kept[name]) for name in HEADS]


def _value(name: str, kept: Any) -> Value:
    if kept is None:
        return None
    if name in DAYS:
        return date.fromordinal(kept)
    if name == "due_minutes":
        return format_minutes(kept)
    if name == "state":
        return STATUS_WORDS[kept]
    if name == "consequence":
        return CONSEQUENCES[kept]
    return int(kept) if isinstance(kept, int) else str(kept)


def harmless(text: str) -> str:
    """Text that a spreadsheet shows as it is: `harmless("=1+1")` is "'=1+1"."""
    return f"'{text}" if text.startswith(DANGEROUS) else text


def csv_lines(rows: Iterable[tuple[DueStatus, Row]]) -> Iterator[str]:
    """The due list as CSV (RFC 4180), head first, one line after the other."""
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(HEADS.values())
    for state, shown in rows:
        writer.writerow([_text(value) for value in values_of(state, shown)])
        if buffer.tell() > 60_000:
            yield buffer.getvalue()
            buffer.seek(0)
            buffer.truncate()
    yield buffer.getvalue()


def _text(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    return harmless(value) if isinstance(value, str) else str(value)


def workbook_of(rows: Iterable[tuple[DueStatus, Row]]) -> bytes:
    """The due list as an XLSX workbook; refuses more rows than a workbook is good for."""
    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet("Due list")
    sheet.freeze_panes = "A2"
    heads = [WriteOnlyCell(sheet, head) for head in HEADS.values()]
    for cell in heads:
        cell.font = Font(bold=True)
    sheet.append(heads)
    for number, (state, shown) in enumerate(rows):
        if number >= MOST_ROWS_OF_A_WORKBOOK:
            remedy = "filter the list, or take the CSV"
            reason = Reason("has too many rows for a workbook", "format", "xlsx", remedy)
            raise Invalid("too_many_rows", reason.sentence(), reason)
        sheet.append([_cell(sheet, value) for value in values_of(state, shown)])
    file = io.BytesIO()
    workbook.save(file)
    return file.getvalue()


def _cell(sheet: Any, value: Value) -> Any:
    """Text is marked as text, so that it is never taken for a formula."""
    cell = WriteOnlyCell(sheet, CONTROL.sub("", value) if isinstance(value, str) else value)
    if isinstance(value, str):
        cell.data_type = "s"
    return cell
