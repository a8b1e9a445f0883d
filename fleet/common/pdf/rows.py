"""Long tables: headings on every page, a group's band never alone at a foot, time that grows with the rows only."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import accumulate
from typing import Any

from reportlab.platypus import Flowable

from fleet.common.pdf import ink
from fleet.common.pdf.faces import STRONG, TEXT, printable, width_of
from fleet.common.pdf.model import Align, Band, Cell, Column, Gauge, Mark, Table
from fleet.common.pdf.shapes import GaugeScale, marked
from fleet.common.pdf.tables import LEAST_PIECE, Room
from fleet.common.pdf.text import paragraph

SIDE_PADDING = 5.0
ABOVE, BELOW, ABOVE_BAND = 2.5, 3.5, 9.0
MARK_INDENT = 11.0
WIDEST_WORD = 0.22
ROWS_MEASURED = 200


class _Line(Flowable):  # type: ignore[misc]
    """One line of text that fits its column; much quicker than a paragraph."""

    def __init__(self, text: str, width: float, *, right: bool) -> None:
        super().__init__()
        self.text, self.right = text, right
        self.width, self.height = width, ink.CELL.leading

    def draw(self) -> None:
        """The text on the baseline a paragraph would use."""
        self.canv.setFillColor(ink.INK)
        self.canv.setFont(TEXT, ink.CELL.fontSize)
        baseline = self.height - ink.CELL.fontSize
        if self.right:
            self.canv.drawRightString(self.width, baseline, self.text)
        else:
            self.canv.drawString(0, baseline, self.text)


@dataclass(slots=True)
class _Row:
    """Cells ready to draw (None is empty), with the height they need and the space above them."""

    cells: list[Any]
    above: float
    height: float
    band: bool = False
    ends: bool = True

    def split(self, widths: list[float], room: float) -> tuple[_Row, _Row] | None:
        """The row broken after `room` points, None where no cell breaks there."""
        pieces = [
            _split_cell(cell, width, room - self.above - BELOW)
            for cell, width in zip(self.cells, widths, strict=True)
        ]
        lower = [below for _, below in pieces]
        if not any(lower):
            return None
        top = _Row([above for above, _ in pieces], self.above, room, band=self.band, ends=False)
        return top, _row(lower, ABOVE, band=self.band)


class RowTable(Flowable):  # type: ignore[misc]
    """The rows of a table from one place on; what does not fit becomes another such table."""

    def __init__(self, heading: _Row, rows: list[_Row], widths: list[float], page_height: float) -> None:
        super().__init__()
        self.heading, self.rows, self.widths, self.page_height = heading, rows, widths, page_height

    def wrap(self, _available_width: float, _available_height: float) -> tuple[float, float]:
        """The size of all its rows together."""
        self.width = sum(self.widths)
        self.height = self.heading.height + sum(row.height for row in self.rows)
        return self.width, self.height

    def split(self, _available_width: float, available_height: float) -> list[Any]:
        """The rows that fit and the rest; nothing where no row fits."""
        room = available_height - self.heading.height
        fits = sum(1 for reach in accumulate(row.height for row in self.rows) if reach <= room)
        if fits == len(self.rows):
            return [self]
        left = room - sum(row.height for row in self.rows[:fits])
        following = self.rows[fits]
        if following.height > self.page_height - self.heading.height and left > LEAST_PIECE:
            halves = following.split(self._inner(), left)
            if halves is not None:
                return self._parts([*self.rows[:fits], halves[0]], [halves[1], *self.rows[fits + 1 :]])
        kept = fits
        while kept and self.rows[kept - 1].band:
            kept -= 1
        if not kept and available_height > self.page_height - 1:
            kept = fits
        return self._parts(self.rows[:kept], self.rows[kept:]) if kept else []

    def _parts(self, *pieces: list[_Row]) -> list[Any]:
        return [RowTable(self.heading, rows, self.widths, self.page_height) for rows in pieces]

    def _inner(self) -> list[float]:
        return [width - 2 * SIDE_PADDING for width in self.widths]

    def draw(self) -> None:
        """Heading between two lines, then the rows, each on its hairline."""
        top = self.height
        self._rule(top, ink.LINE, ink.INK)
        for cell, left in zip(self.heading.cells, self._lefts(), strict=True):
            cell.drawOn(self.canv, left, top - self.heading.height + BELOW)
        top -= self.heading.height
        self._rule(top, ink.LINE, ink.INK)
        for row in self.rows:
            for cell, left in zip(row.cells, self._lefts(), strict=True):
                if cell is not None:
                    cell.drawOn(self.canv, left, top - row.above - cell.height)
            top -= row.height
            if row.ends:
                self._rule(top, ink.HAIRLINE, ink.RULE)

    def _lefts(self) -> list[float]:
        return [SIDE_PADDING + edge for edge in accumulate(self.widths[:-1], initial=0.0)]

    def _rule(self, height: float, weight: float, colour: Any) -> None:
        self.canv.setLineWidth(weight)
        self.canv.setStrokeColor(colour)
        self.canv.line(0, height, self.width, height)


def table_rows(table: Table, room: Room) -> RowTable:
    """The rows of a table under its headings."""
    widths = column_widths(table, room.width)
    inner = [width - 2 * SIDE_PADDING for width in widths]
    heads = [_sized(_heading(column), width) for column, width in zip(table.columns, inner, strict=True)]
    rows = [
        _band(row, room.width, len(widths))
        if isinstance(row, Band)
        else _row([_cell(*parts) for parts in zip(row, table.columns, inner, strict=True)], ABOVE)
        for row in table.rows
    ]
    return RowTable(_row(heads, ABOVE), rows, widths, room.height)


def column_widths(table: Table, width: float) -> list[float]:
    """Column widths by share, but wide enough for the longest word of each column where the page allows."""
    total = sum(column.share for column in table.columns)
    widths = [width * column.share / total for column in table.columns]
    least = [min(_longest(table, place), width * WIDEST_WORD) for place in range(len(widths))]
    if sum(least) > width:
        return widths
    narrow: set[int] = set()
    while short := {place for place, wide in enumerate(widths) if wide < least[place]} - narrow:
        narrow |= short
        free = width - sum(least[place] for place in narrow)
        shares = sum(column.share for place, column in enumerate(table.columns) if place not in narrow)
        widths = [
            least[place] if place in narrow else free * column.share / shares
            for place, column in enumerate(table.columns)
        ]
    return widths


def _longest(table: Table, place: int) -> float:
    """The width that the longest word of a column asks for, in points, judged by its first rows."""
    words = [(word, STRONG, 7.5, 0.0) for word in _words(table.columns[place].heading)]
    for row in table.rows[:ROWS_MEASURED]:
        cell = "" if isinstance(row, Band) else row[place]
        if isinstance(cell, Mark):
            words += [(word, STRONG, 8.5, MARK_INDENT) for word in _words(cell.word)]
        elif isinstance(cell, str):
            words += [(word, TEXT, 8.5, 0.0) for word in _words(cell)]
    widest = max(width_of(word, face, size) + more for word, face, size, more in words)
    return widest + 2 * SIDE_PADDING + 0.5


def _words(text: str) -> list[str]:
    """What may not be broken; fixed spaces hold words together."""
    return re.split(r"[ \n]+", printable(text[:400]))


def _heading(column: Column) -> Any:
    return paragraph(column.heading, ink.COLUMN_RIGHT if column.align is Align.RIGHT else ink.COLUMN)


def _cell(cell: Cell, column: Column, width: float) -> Any:
    """A cell in its lightest form, with its size known."""
    if isinstance(cell, Mark):
        return _sized(marked(cell), width)
    if isinstance(cell, Gauge):
        return _sized(GaugeScale(cell), width)
    right = column.align is Align.RIGHT
    text = printable(cell)
    if "\n" not in text and width_of(text, TEXT, ink.CELL.fontSize) <= width:
        return _Line(text, width, right=right) if text else None
    return _sized(paragraph(cell, ink.CELL_RIGHT if right else ink.CELL), width)


def _band(band: Band, width: float, columns: int) -> _Row:
    cell = _sized(paragraph(band.text, ink.BAND), width - 2 * SIDE_PADDING)
    return _row([cell, *[None] * (columns - 1)], ABOVE_BAND, band=True)


def _row(cells: list[Any], above: float, *, band: bool = False) -> _Row:
    height = max((cell.height for cell in cells if cell is not None), default=ink.CELL.leading)
    return _Row(cells, above, height + above + BELOW, band=band)


def _sized(cell: Any, width: float) -> Any:
    cell.width, cell.height = cell.wrap(width, 10_000)
    return cell


def _split_cell(cell: Any, width: float, room: float) -> tuple[Any, Any]:
    """What stands above the break and what below; a cell that fits stands above."""
    if cell is None or cell.height <= room:
        return cell, None
    pieces = cell.split(width, room)
    if len(pieces) < 2:
        return None, cell
    return _sized(pieces[0], width), _sized(pieces[1], width)
