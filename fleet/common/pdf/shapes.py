"""Small drawings: the urgency marks, the gauge of a reading between its limits, the square code."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import segno
from reportlab.platypus import Flowable, Paragraph

from fleet.common.errors import Invalid, Reason
from fleet.common.pdf.ink import HAIRLINE, HEAVY, ICE, INK, LINE, MARKED, RULE
from fleet.common.pdf.model import Gauge, Level, Mark
from fleet.common.pdf.text import markup

QUIET_MODULES = 4
MOST_BYTES = 360


def draw_mark(canvas: Any, level: Level, left: float, bottom: float, size: float) -> None:
    """Filled square, half square, ring or broken ring, `size` points wide."""
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setLineWidth(size * 0.14)
    if level in (Level.STOP, Level.SOON):
        canvas.rect(left, bottom, size, size, stroke=1, fill=int(level is Level.STOP))
        if level is Level.SOON:
            canvas.rect(left, bottom, size / 2, size, stroke=0, fill=1)
    else:
        if level is Level.UNKNOWN:
            canvas.setDash(size * 0.22, size * 0.19)
        canvas.circle(left + size / 2, bottom + size / 2, size / 2, stroke=1, fill=0)
    canvas.restoreState()


class MarkedText(Paragraph):  # type: ignore[misc]
    """Text with an urgency mark before its first line; the mark stays with the first part when split."""

    level: Level | None = None

    def draw(self) -> None:
        """Mark first, then the text."""
        if self.level is not None:
            size = self.style.fontSize * 0.78
            bottom = self.height - self.style.leading + (self.style.leading - size) * 0.52
            draw_mark(self.canv, self.level, 0.6, bottom, size)
        super().draw()


def marked(mark: Mark, style: Any = MARKED) -> MarkedText:
    """The flowing form of a mark."""
    text = MarkedText(markup(mark.word), style)
    text.level = mark.level
    return text


class GaugeScale(Flowable):  # type: ignore[misc]
    """A short scale: its limits as posts, the value as a dot, or as an arrowhead where it runs off."""

    def __init__(self, gauge: Gauge) -> None:
        super().__init__()
        self.gauge = gauge

    def wrap(self, available_width: float, _available_height: float) -> tuple[float, float]:
        """As wide as its column, one line high."""
        self.width, self.height = available_width, 11.5
        return self.width, self.height

    def place(self, value: Decimal) -> float:
        """Where a value falls, 0 left and 1 right; the limits stand at a fifth and at four fifths."""
        low, high = self.gauge.low, self.gauge.high
        if low is not None and high is not None and high > low:
            return 0.2 + 0.6 * float((value - low) / (high - low))
        bound = low if low is not None else high if high is not None else self.gauge.value
        reach = abs(bound) or Decimal(1)
        home = 0.2 if low is not None else 0.8
        return home + 0.6 * float((value - bound) / reach)

    def draw(self) -> None:
        """Scale, posts, value."""
        canvas, middle = self.canv, self.height / 2
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(HAIRLINE)
        canvas.line(0, middle, self.width, middle)
        canvas.setStrokeColor(INK)
        inside = [0.0 if self.gauge.low is None else 0.2, 1.0 if self.gauge.high is None else 0.8]
        canvas.setLineWidth(HEAVY)
        canvas.line(inside[0] * self.width, middle, inside[1] * self.width, middle)
        canvas.setLineWidth(LINE)
        for limit, at in ((self.gauge.low, 0.2), (self.gauge.high, 0.8)):
            if limit is not None:
                canvas.line(at * self.width, middle - 3.5, at * self.width, middle + 3.5)
        self.draw_value(middle)

    def draw_value(self, middle: float) -> None:
        """The value as a dot on the scale, or an arrowhead at the end it lies beyond."""
        canvas, place = self.canv, self.place(self.gauge.value)
        canvas.setFillColor(ICE)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(HAIRLINE)
        if 0 <= place <= 1:
            canvas.circle(place * self.width, middle, 2.6, stroke=1, fill=1)
            return
        tip, back = (0.0, 6.0) if place < 0 else (self.width, self.width - 6.0)
        path = canvas.beginPath()
        path.moveTo(tip, middle)
        path.lineTo(back, middle + 3.5)
        path.lineTo(back, middle - 3.5)
        path.close()
        canvas.drawPath(path, stroke=1, fill=1)


def draw_code(canvas: Any, text: str, left: float, bottom: float, side: float) -> None:
    """A QR code (ISO/IEC 18004, error level M) as one path, its quiet zone inside the square of `side`."""
    code = square_code(text)
    modules = len(code)
    module = side / (modules + 2 * QUIET_MODULES)
    path = canvas.beginPath()
    for row, bits in enumerate(code):
        top = bottom + side - (QUIET_MODULES + row) * module
        for start, length in _runs(bits):
            path.rect(left + (QUIET_MODULES + start) * module, top - module, length * module, module)
    canvas.saveState()
    canvas.setFillColor(INK)
    canvas.drawPath(path, stroke=0, fill=1)
    canvas.restoreState()


def square_code(text: str) -> tuple[bytes, ...]:
    """The modules of a QR code, row by row, 1 for dark. Refuses text whose code would be too fine to read on paper."""
    length = len(text.encode())
    if length <= MOST_BYTES:
        code = segno.make(text, micro=False, error="m", boost_error=False)
        return tuple(bytes(row) for row in code.matrix)
    detail, remedy = f"has {length} bytes", f"give at most {MOST_BYTES} bytes"
    raise Invalid(
        "code_too_long",
        "The text is too long for a square code that can be read from paper.",
        Reason(detail, "qr_text", f"{text[:40]}…", remedy),
    )


def _runs(bits: bytes) -> list[tuple[int, int]]:
    """Neighbouring dark modules as (start, length), so that no seam shows between them."""
    runs: list[tuple[int, int]] = []
    start = None
    for place, bit in enumerate([*bits, 0]):
        if bit and start is None:
            start = place
        elif not bit and start is not None:
            runs.append((start, place - start))
            start = None
    return runs
