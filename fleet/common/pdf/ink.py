"""Ink on paper: colours, line weights, text styles. One accent, used sparingly; everything works in black."""

from __future__ import annotations

from reportlab.lib.colors import HexColor, white
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle

from fleet.common.pdf.faces import FIGURES, STRONG, TEXT

INK = HexColor(0x17202A)
SOFT = HexColor(0x4B545C)
RULE = HexColor(0x9A958A)
GRID = HexColor(0xD3CBB9)
ICE = HexColor(0x0C5A79)
PAPER = white

HAIRLINE = 0.4
LINE = 0.8
HEAVY = 1.4


def _style(name: str, face: str, size: float, leading: float, **more: object) -> ParagraphStyle:
    """A text style with every face named, so that no default face can slip in."""
    return ParagraphStyle(
        name, fontName=face, bulletFontName=face, fontSize=size, leading=leading, textColor=INK, **more
    )


TITLE = _style("title", STRONG, 18, 22)
SUBTITLE = _style("subtitle", TEXT, 10.5, 14)
HEADING = _style("heading", STRONG, 11, 14, spaceBefore=14, spaceAfter=5)
BODY = _style("body", TEXT, 9.5, 13.5, spaceAfter=5)
NOTE = _style("note", TEXT, 8, 11, spaceBefore=3)
CELL = _style("cell", TEXT, 8.5, 11.5)
CELL_RIGHT = _style("cell-right", TEXT, 8.5, 11.5, alignment=TA_RIGHT)
MARKED = _style("marked", STRONG, 8.5, 11.5, leftIndent=11)
COLUMN = _style("column", STRONG, 7.5, 9.5)
COLUMN_RIGHT = _style("column-right", STRONG, 7.5, 9.5, alignment=TA_RIGHT)
BAND = _style("band", STRONG, 9, 12)
EVENT = _style("event", TEXT, 8, 11.5, leftIndent=22)
CAUTION_HEAD = ParagraphStyle("caution-head", parent=BAND, textColor=PAPER)
CAUTION = _style("caution", STRONG, 9.5, 13)
NOTICE = _style("notice", STRONG, 9.5, 13, leftIndent=14)
SIGNED_MEANING = _style("signed-meaning", TEXT, 8, 11)
SIGNED_NAME = _style("signed-name", STRONG, 11, 14)
SIGNED_TIME = _style("signed-time", FIGURES, 8, 11)
