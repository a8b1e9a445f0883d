"""What stands on every page: the ruled head, the safety sentence, the digest and the page count."""

from __future__ import annotations

from datetime import UTC
from functools import cache
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from fleet.common.pdf.faces import FIGURES, STRONG, TEXT, shortened, width_of
from fleet.common.pdf.ink import HAIRLINE, ICE, INK, LINE, SOFT
from fleet.common.pdf.model import Document

SAFETY = (
    "The aircraft's approved maintenance data, the authority's rules and licensed staff decide;"
    " this tool does not replace them."
)
SIDE = 18 * mm
HEAD = 25 * mm
FOOT = 24 * mm


class CountedCanvas(Canvas):  # type: ignore[misc]
    """Holds finished pages back until their number is known, then frames each as "page x of y"."""

    def __init__(self, *args: Any, document: Document, **options: Any) -> None:
        super().__init__(*args, **options)
        self._framed = document
        if document.written_at is not None:
            written = document.written_at.astimezone(UTC).strftime("D:%Y%m%d%H%M%SZ")
            self.setDateFormatter(lambda *_: written)
        self._pages: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - the drawing library's own name
        """Keep the finished page and begin another."""
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Frame and write every page kept."""
        for number, page in enumerate(self._pages, 1):
            self.__dict__.update(page)
            draw_head(self, self._framed)
            draw_foot(self, self._framed, f"Page {number} of {len(self._pages)}")
            super().showPage()
        super().save()


def draw_head(canvas: Any, document: Document) -> None:
    """Issuer and title on the left, registration and number on the right, a ruler in millimetres beneath."""
    width, height = canvas._pagesize
    line = height - 16 * mm
    canvas.saveState()
    canvas.setFillColor(INK)
    right = width - SIDE
    for text, face, size, most in (
        (document.number, FIGURES, 8.5, 48 * mm),
        (document.registration, STRONG, 12, 34 * mm),
    ):
        word = shortened(text, face, size, most)
        canvas.setFont(face, size)
        canvas.drawRightString(right, line + 5, word)
        right -= width_of(word, face, size) + (10 if word else 0)
    right = _draw_standing(canvas, document.standing, right, line)
    room = right - SIDE - 6
    canvas.setFont(STRONG, 8.5)
    issuer = shortened(document.issuer, STRONG, 8.5, room / 2)
    canvas.drawString(SIDE, line + 5, issuer)
    after = width_of(issuer, STRONG, 8.5) + (8 if issuer else 0)
    canvas.setFont(TEXT, 8.5)
    canvas.drawString(SIDE + after, line + 5, shortened(document.title, TEXT, 8.5, room - after))
    _draw_ruler(canvas, width, line)
    canvas.restoreState()


def _draw_standing(canvas: Any, standing: str, right: float, line: float) -> float:
    """The boxed standing of the paper, left of `right`; gives back what is left."""
    if not standing:
        return right
    word = shortened(standing.upper(), STRONG, 7.5, 46 * mm)
    wide = width_of(word, STRONG, 7.5) + 8
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(LINE)
    canvas.rect(right - wide, line + 2.5, wide, 11.5, stroke=1, fill=0)
    canvas.setFont(STRONG, 7.5)
    canvas.drawString(right - wide + 4, line + 5.6, word)
    return right - wide - 8


def _draw_ruler(canvas: Any, width: float, line: float) -> None:
    """A hairline with a tick every two millimetres and a longer one every ten."""
    canvas.setStrokeColor(ICE)
    canvas.setLineWidth(HAIRLINE)
    canvas.line(SIDE, line, width - SIDE, line)
    canvas.drawPath(_ticks(width, line), stroke=1, fill=0)


@cache
def _ticks(width: float, line: float) -> PDFPathObject:
    """The ticks of a size of paper: the same on every page."""
    path = PDFPathObject()
    for count in range(int((width - 2 * SIDE + 0.01) / (2 * mm)) + 1):
        across = SIDE + count * 2 * mm
        path.moveTo(across, line)
        path.lineTo(across, line - (2.2 * mm if count % 5 == 0 else 1.1 * mm))
    return path


def draw_foot(canvas: Any, document: Document, count: str) -> None:
    """The safety sentence, the digest, the words of printing and the page count."""
    width, _ = canvas._pagesize
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(HAIRLINE)
    canvas.line(SIDE, 18 * mm, width - SIDE, 18 * mm)
    canvas.setFillColor(INK)
    canvas.setFont(STRONG, 8)
    canvas.drawRightString(width - SIDE, 14 * mm, count)
    room = width - 2 * SIDE - width_of(count, STRONG, 8) - 12
    size = min(7.5, 7.5 * room / width_of(SAFETY, TEXT, 7.5))
    canvas.setFont(TEXT, size)
    canvas.drawString(SIDE, 14 * mm, SAFETY)
    canvas.setFillColor(SOFT)
    if document.digest:
        canvas.setFont(FIGURES, 6)
        canvas.drawString(SIDE, 10 * mm, shortened(f"SHA-256 {document.digest}", FIGURES, 6, 100 * mm))
    canvas.setFont(TEXT, 7)
    printed_room = width - 2 * SIDE - (104 * mm if document.digest else 0)
    canvas.drawRightString(width - SIDE, 10 * mm, shortened(document.printed, TEXT, 7, printed_room))
    canvas.restoreState()
