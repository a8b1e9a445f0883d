"""What a run was done with, as tables: equipment, fluid, photographs, hands it passed through."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from fleet.common.pdf.model import Column, Table
from fleet.common.wording import day as day_words
from fleet.common.wording import moment as moment_words
from fleet.quantities import unit_of


def provisions(payload: Mapping[str, Any]) -> Iterator[Table]:
    """The tables that have rows."""
    for table in (_equipment(payload), _fluid(payload), _photos(payload), _hands(payload)):
        if table.rows:
            yield table


def _day(written: str) -> str:
    return day_words(date.fromisoformat(written)) if written else ""


def _equipment(payload: Mapping[str, Any]) -> Table:
    rows = tuple(
        (
            row["role"],
            f"{row['name']} ({row['code']})",
            row["serial_number"],
            row["certificate"] or "not needed",
            _day(row["calibration_due"]),
        )
        for row in payload["equipment"]
    )
    columns = (
        Column("Role", 14),
        Column("Equipment", 34),
        Column("Serial number", 18),
        Column("Calibration", 20),
        Column("Holds until", 16),
    )
    return Table(columns, rows, heading="Equipment")


def _fluid(payload: Mapping[str, Any]) -> Table:
    rows = tuple(
        (
            row["specification"],
            row["batch"],
            _day(row["expires_on"]),
            f"{row['amount']} {unit_of(row['unit']).label}",
        )
        for row in payload["fluid"]
    )
    columns = (Column("Fluid", 34), Column("Batch", 20), Column("Good until", 18), Column("Amount", 16))
    return Table(columns, rows, heading="Fluid")


def _photos(payload: Mapping[str, Any]) -> Table:
    rows = tuple((row["step"], row["sha256"]) for row in payload["photos"])
    columns = (Column("Photograph at step", 20), Column("SHA-256 of the picture", 60))
    return Table(columns, rows, heading="Photographs")


def _hands(payload: Mapping[str, Any]) -> Table:
    rows = tuple(
        (row["from"], row["to"], moment_words(datetime.fromisoformat(row["at"])), row["note"])
        for row in payload["hand_overs"]
    )
    columns = (Column("From", 20), Column("To", 20), Column("When", 22), Column("Where it stood", 40))
    return Table(columns, rows, heading="Handed over")
