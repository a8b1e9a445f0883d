"""A page model as PDF: the same model always gives the same bytes."""

from __future__ import annotations

from enum import Enum
from functools import partial
from io import BytesIO
from typing import Any

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER, landscape
from reportlab.lib.units import mm
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Spacer

from fleet.common.pdf import ink
from fleet.common.pdf.blocks import blocks_of
from fleet.common.pdf.faces import TEXT, load_faces, printable
from fleet.common.pdf.frame import FOOT, HEAD, SIDE, CountedCanvas
from fleet.common.pdf.model import Document, KeyValues
from fleet.common.pdf.shapes import draw_code
from fleet.common.pdf.tables import Room, laid_table
from fleet.common.pdf.text import paragraph

CODE_SIDE = 27 * mm
# Nobody sends these pages through a channel that only carries letters: bytes as they are, a fifth shorter.
rl_config.useA85 = 0


class Paper(Enum):
    """Sheet sizes, upright, in points."""

    A4 = A4
    LETTER = LETTER


class _Code(Flowable):  # type: ignore[misc]
    """The square code beside the title."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text
        self.width = self.height = CODE_SIDE

    def draw(self) -> None:
        """The code with its quiet zone."""
        draw_code(self.canv, self.text, 0, 0, CODE_SIDE)


def render(document: Document, paper: Paper = Paper.A4) -> bytes:
    """The document as PDF: embedded faces, English, "page x of y", the same bytes for the same document.

    Refuses (Invalid, `code_too_long`) a `qr_text` whose square code could not be read from paper.
    """
    load_faces()
    size = landscape(paper.value) if document.wide else paper.value
    width, height = size[0] - 2 * SIDE, size[1] - HEAD - FOOT
    room = Room(width, height)
    target = BytesIO()
    template = BaseDocTemplate(
        target,
        pagesize=size,
        title=printable(" ".join(part for part in (document.title, document.number) if part)),
        author=printable(document.issuer) or "Verglas",
        subject=printable(document.subtitle),
        creator="Verglas",
        producer="Verglas",
        keywords=[],
        lang="en",
        displayDocTitle=True,
        initialFontName=TEXT,
        invariant=1,
        pageCompression=1,
    )
    frame = Frame(SIDE, FOOT, width, height, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)
    template.addPageTemplates([PageTemplate(id="page", frames=[frame], pagesize=size)])
    story = _title(document, room)
    for section in document.sections:
        story.extend(blocks_of(section, room))
    template.build(story, canvasmaker=partial(CountedCanvas, document=document))
    return target.getvalue()


def _title(document: Document, room: Room) -> list[Any]:
    """Title, subtitle and the square code, then the facts that identify the document."""
    words: list[Any] = [paragraph(document.title, ink.TITLE)]
    if document.subtitle:
        words.append(paragraph(document.subtitle, ink.SUBTITLE))
    if document.qr_words:
        words.append(paragraph(document.qr_words, ink.NOTE))
    if document.qr_text:
        style = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0)]
        row = [words, _Code(document.qr_text)]
        head: list[Any] = [laid_table([row], [room.width - CODE_SIDE, CODE_SIDE], style, room.height)]
    else:
        head = words
    facts = KeyValues(document.identity, columns=4 if document.wide else 3)
    return [*head, Spacer(0, 8), *blocks_of(facts, room), Spacer(0, 8)]
