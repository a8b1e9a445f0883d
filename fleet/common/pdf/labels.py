"""Sheets of labels with square codes, to be printed at full size on label paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from fleet.common.pdf.faces import STRONG, TEXT, load_faces, printable, shortened, width_of
from fleet.common.pdf.ink import HAIRLINE, INK, RULE
from fleet.common.pdf.render import Paper
from fleet.common.pdf.shapes import draw_code

PADDING = 2 * mm


@dataclass(frozen=True, slots=True)
class Label:
    """One label: the first line is large, the others small; the code says `qr_text`."""

    lines: tuple[str, ...]
    qr_text: str


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """Where the labels of a sheet lie; all measures in millimetres.

    `skip` leaves the first places of a partly used sheet empty; `outlines` draws hairlines for cutting.
    """

    paper: Paper = Paper.A4
    columns: int = 3
    rows: int = 8
    width: float = 70.0
    height: float = 37.0
    left: float = 0.0
    top: float = 0.5
    gap_across: float = 0.0
    gap_down: float = 0.0
    skip: int = 0
    outlines: bool = True

    def __post_init__(self) -> None:
        if self.columns < 1 or self.rows < 1 or not 0 <= self.skip < self.columns * self.rows:
            raise ValueError(f"{self.columns} × {self.rows}, skip {self.skip}: give at least one free place")
        if self.width < 20 or self.height < 12:
            raise ValueError(f"{self.width} × {self.height} mm: a label needs at least 20 × 12 mm")
        across = self.left + self.columns * self.width + (self.columns - 1) * self.gap_across
        down = self.top + self.rows * self.height + (self.rows - 1) * self.gap_down
        sheet = (self.paper.value[0] / mm, self.paper.value[1] / mm)
        if min(self.left, self.top, self.gap_across, self.gap_down) < 0 or (
            across > sheet[0] + 0.1 or down > sheet[1] + 0.1
        ):
            raise ValueError(
                f"labels reach {across:.1f} × {down:.1f} mm on {sheet[0]:.1f} × {sheet[1]:.1f} mm"
            )


A4_24 = SheetLayout()
LETTER_30 = SheetLayout(
    paper=Paper.LETTER, columns=3, rows=10, width=66.675, height=25.4, left=4.76, top=12.7, gap_across=3.175
)


def render_labels(labels: Sequence[Label], sheet: SheetLayout = A4_24) -> bytes:
    """The labels in reading order as PDF, as many sheets as they need; the same labels give the same bytes.

    Refuses an empty list (ValueError) and a text too long for a code (Invalid, `code_too_long`).
    """
    if not labels:
        raise ValueError("labels: there is nothing to print; give at least one label")
    load_faces()
    target = BytesIO()
    canvas = Canvas(
        target, pagesize=sheet.paper.value, invariant=1, pageCompression=1, initialFontName=TEXT, lang="en"
    )
    canvas.setTitle("Labels")
    canvas.setAuthor("Verglas")
    canvas.setCreator("Verglas")
    canvas.setProducer("Verglas")
    places = sheet.columns * sheet.rows
    for number, label in enumerate(labels, sheet.skip):
        if number > sheet.skip and number % places == 0:
            canvas.showPage()
        row, column = divmod(number % places, sheet.columns)
        left = (sheet.left + column * (sheet.width + sheet.gap_across)) * mm
        bottom = (
            sheet.paper.value[1] - (sheet.top + row * (sheet.height + sheet.gap_down) + sheet.height) * mm
        )
        _draw_label(canvas, label, (left, bottom), sheet)
    canvas.save()
    return target.getvalue()


def _draw_label(canvas: Any, label: Label, corner: tuple[float, float], sheet: SheetLayout) -> None:
    """Code on the left, lines on the right, centred in height."""
    (left, bottom), width, height = corner, sheet.width * mm, sheet.height * mm
    if sheet.outlines:
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(HAIRLINE)
        canvas.rect(left, bottom, width, height, stroke=1, fill=0)
    side = min(height - PADDING, width * 0.48)
    draw_code(canvas, label.qr_text, left + PADDING / 2, bottom + (height - side) / 2, side)
    text_left = left + side + PADDING / 2
    room = left + width - PADDING * 1.5 - text_left
    lines = _fitted(label.lines, room, height - 2 * PADDING)
    total = sum(leading for _, _, _, leading in lines)
    top = bottom + (height + total) / 2
    canvas.setFillColor(INK)
    for text, face, size, leading in lines:
        top -= leading
        canvas.setFont(face, size)
        canvas.drawString(text_left, top + leading * 0.28, text)


def _fitted(lines: tuple[str, ...], width: float, height: float) -> list[tuple[str, str, float, float]]:
    """The lines that fit, as (text, face, size, leading); what does not fit ends in an ellipsis."""
    if not lines:
        return []
    first = printable(lines[0])
    size = next((size for size in (20.0, 16.0, 13.0, 11.0) if width_of(first, STRONG, size) <= width), 9.0)
    wrapped = simpleSplit(first, STRONG, size, width)
    fitted = _ended(wrapped, 2, STRONG, size, width)
    left = height - sum(leading for _, _, _, leading in fitted)
    small = [part for line in lines[1:] for part in simpleSplit(printable(line), TEXT, 7, width)]
    return fitted + _ended(small, max(0, int(left / 9)), TEXT, 7.0, width)


def _ended(
    parts: list[str], most: int, face: str, size: float, width: float
) -> list[tuple[str, str, float, float]]:
    """At most `most` lines; the last says by an ellipsis that more was to come."""
    kept = parts[:most]
    if kept and len(parts) > most:
        kept[-1] = f"{kept[-1]} {parts[most]}"
    return [(shortened(part, face, size, width), face, size, size * 1.28) for part in kept]
