"""Grids of facts and boxes: hairlines, few rows, none of them broken unless it is taller than a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reportlab.platypus import LongTable, TableStyle

from fleet.common.pdf import ink
from fleet.common.pdf.faces import TEXT
from fleet.common.pdf.model import KeyValues
from fleet.common.pdf.text import labelled

LEAST_PIECE = 90

_PADDING = [
    ("FONT", (0, 0), (-1, -1), TEXT, 8.5),
    ("LEFTPADDING", (0, 0), (-1, -1), 5),
    ("RIGHTPADDING", (0, 0), (-1, -1), 5),
    ("TOPPADDING", (0, 0), (-1, -1), 2.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 3.5),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]


@dataclass(frozen=True, slots=True)
class Room:
    """The space a page offers its sections, in points."""

    width: float
    height: float


class BoxTable(LongTable):  # type: ignore[misc]
    """Breaks between rows; inside a row only where that row is taller than a whole page."""

    page_height = 0.0

    def split(self, available_width: float, available_height: float) -> list[Any]:
        """The part that fits and the rest; nothing where all of it belongs on the next page."""
        self.splitInRow = 0
        parts: list[Any] = super().split(available_width, available_height)
        at_top = available_height > self.page_height - 1
        boxed = self.repeatRows == 0 and available_height > LEAST_PIECE
        if not parts and (at_top or (boxed and self._height > self.page_height)):
            self.splitInRow = 1
            parts = super().split(available_width, available_height)
        for part in parts:
            part.page_height = self.page_height
        return parts


def laid_table(
    rows: list[list[Any]], widths: list[float], style: list[Any], page_height: float, repeat: int = 0
) -> BoxTable:
    """A table of the given column widths, its first `repeat` rows repeated on every page."""
    table = BoxTable(
        rows, colWidths=widths, repeatRows=repeat, style=TableStyle([*_PADDING, *style]), hAlign="LEFT"
    )
    table.page_height = page_height
    return table


def fact_grid(facts: KeyValues, room: Room) -> BoxTable:
    """Labelled boxes, row by row, divided by hairlines."""
    count = facts.columns
    boxes: list[Any] = [labelled(label, value, ink.CELL) for label, value in facts.pairs]
    boxes.extend([""] * (-len(boxes) % count))
    rows = [boxes[start : start + count] for start in range(0, len(boxes), count)]
    style = [
        ("LINEABOVE", (0, 0), (-1, 0), ink.HAIRLINE, ink.INK),
        ("LINEBELOW", (0, 0), (-1, -1), ink.HAIRLINE, ink.RULE),
        ("LINEBELOW", (0, -1), (-1, -1), ink.HAIRLINE, ink.INK),
        ("LINEBEFORE", (1, 0), (-1, -1), ink.HAIRLINE, ink.RULE),
    ]
    return laid_table(rows, [room.width / count] * count, style, room.height)
