"""The typefaces of every page, embedded from the files beside us, and text made safe for them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

TEXT = "VerglasText"
STRONG = "VerglasStrong"
FIGURES = "VerglasFigures"

FOLDER = Path(__file__).resolve().parent.parent / "fonts"
FILES = {
    TEXT: "DejaVuSansCondensed.ttf",
    STRONG: "DejaVuSansCondensed-Bold.ttf",
    FIGURES: "DejaVuSansMono.ttf",
}


@cache
def load_faces() -> None:
    """Register the faces once per process."""
    for name, file in FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(FOLDER / file)))
    pdfmetrics.registerFontFamily(TEXT, normal=TEXT, bold=STRONG, italic=TEXT, boldItalic=STRONG)


@cache
def _known() -> frozenset[int]:
    """Every character that all three faces can draw."""
    load_faces()
    faces = [frozenset(pdfmetrics.getFont(name).face.charToGlyph) for name in FILES]
    return frozenset.intersection(*faces)


@cache
def _kept() -> frozenset[str]:
    """Every character that stays what it is."""
    seen = "\n" + "".join(map(chr, range(32, 127)))
    return frozenset(seen).union(
        one for one in map(chr, _known()) if one not in "\r\t" and _drawn(one) == one
    )


def printable(text: str) -> str:
    """Text with nothing silently lost: a character without a drawing becomes its number.

    `printable("5 °C ❄")` keeps all; a character no face knows becomes e.g. `[U+4E2D]`; tabs become spaces.
    """
    if _kept().issuperset(text):
        return text
    return "".join(_drawn(character) for character in text.replace("\r\n", "\n").replace("\r", "\n"))


def _drawn(character: str) -> str:
    """One character as it can be drawn."""
    if character == "\n":
        return character
    if character in "\t\v\f\u2028\u2029":
        return " "
    if ord(character) in _known() and (character.isprintable() or character.isspace()):
        return character
    return f"[U+{ord(character):04X}]"


def width_of(text: str, face: str, size: float) -> float:
    """How wide a line of text is, in points."""
    load_faces()
    return float(pdfmetrics.stringWidth(text, face, size))


def shortened(text: str, face: str, size: float, width: float) -> str:
    """The text, or its beginning and an ellipsis where it is wider than `width` points."""
    line = " ".join(printable(text).split())
    if width_of(line, face, size) <= width:
        return line
    low, high = 0, len(line)
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(line[:middle].rstrip() + "…", face, size) <= width:
            low = middle
        else:
            high = middle - 1
    return line[:low].rstrip() + "…"
