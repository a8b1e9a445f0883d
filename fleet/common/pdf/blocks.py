"""From sections of the page model to things that flow down a page."""

from __future__ import annotations

from functools import singledispatch
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, KeepTogether, Spacer

from fleet.common.pdf import ink
from fleet.common.pdf.charts import ChartDrawing, chart_keys, draw_flag
from fleet.common.pdf.model import (
    Cautions,
    Chart,
    KeyValues,
    Level,
    Mark,
    Notice,
    Paragraphs,
    Section,
    Signature,
    Signatures,
    Table,
)
from fleet.common.pdf.rows import table_rows
from fleet.common.pdf.shapes import MarkedText, marked
from fleet.common.pdf.tables import Room, fact_grid, laid_table
from fleet.common.pdf.text import markup, moment_words, paragraph
from fleet.common.wording import day as day_words

Flow = list[Any]


@singledispatch
def blocks_of(section: Section, _room: Room) -> Flow:
    """What a section looks like in its `_room`; one registered form per kind of section."""
    raise TypeError(f"{type(section).__name__} is not a section of a page")


@blocks_of.register
def _(section: KeyValues, room: Room) -> Flow:
    if not section.pairs:
        return []
    return [*_heading(section.heading), fact_grid(section, room), Spacer(0, 4)]


@blocks_of.register
def _(section: Table, room: Room) -> Flow:
    body = (
        table_rows(section, room) if section.rows else marked(Mark(Level.UNKNOWN, section.empty), ink.NOTICE)
    )
    return [*_heading(section.heading), body, *_note(section.note), Spacer(0, 4)]


@blocks_of.register
def _(section: Paragraphs, _room: Room) -> Flow:
    return [*_heading(section.heading), *(paragraph(text, ink.BODY) for text in section.texts)]


@blocks_of.register
def _(section: Cautions, room: Room) -> Flow:
    if not section.texts:
        return []
    rows = [[paragraph(section.heading.upper(), ink.CAUTION_HEAD)]]
    rows += [[paragraph(text, ink.CAUTION)] for text in section.texts]
    style = [
        ("BOX", (0, 0), (-1, -1), ink.HEAVY, ink.INK),
        ("BACKGROUND", (0, 0), (-1, 0), ink.INK),
        ("LEFTPADDING", (0, 0), (-1, -1), 9),
        ("RIGHTPADDING", (0, 0), (-1, -1), 9),
        ("TOPPADDING", (0, 1), (-1, -1), 5),
        ("BOTTOMPADDING", (0, 1), (-1, -1), 5),
    ]
    return [
        CondPageBreak(30 * mm),
        Spacer(0, 8),
        laid_table(rows, [room.width], style, room.height, repeat=1),
        Spacer(0, 8),
    ]


@blocks_of.register
def _(section: Notice, room: Room) -> Flow:
    rows: list[Any] = [[paragraph(section.heading, ink.BAND)]] if section.heading else []
    rows.append([marked(Mark(section.level, section.text), ink.NOTICE)])
    style = [
        ("BOX", (0, 0), (-1, -1), ink.LINE, ink.INK),
        ("LEFTPADDING", (0, 0), (-1, -1), 9),
        ("TOPPADDING", (0, 0), (-1, 0), 6),
        ("BOTTOMPADDING", (0, -1), (-1, -1), 7),
        ("NOSPLIT", (0, 0), (-1, -1)),
    ]
    return [Spacer(0, 6), laid_table(rows, [room.width], style, room.height), Spacer(0, 6)]


@blocks_of.register
def _(section: Chart, _room: Room) -> Flow:
    if not any(series.points for series in section.series):
        empty = marked(Mark(Level.UNKNOWN, section.empty), ink.NOTICE)
        return [*_heading(section.heading), empty, *_note(section.note)]
    keys = chart_keys(section)
    drawing = KeepTogether([*_heading(section.heading), ChartDrawing(section), *keys])
    events = [_numbered(number, event.on, event.words) for number, event in enumerate(section.events, 1)]
    return [drawing, Spacer(0, 2), *events, *_note(section.note), Spacer(0, 6)]


@blocks_of.register
def _(section: Signatures, room: Room) -> Flow:
    if not section.entries:
        empty = marked(Mark(Level.UNKNOWN, section.empty), ink.NOTICE)
        return [*_heading(section.heading), empty]
    boxes: list[Any] = [_signature(entry) for entry in section.entries]
    boxes.extend([""] * (len(boxes) % 2))
    rows = [[boxes[place], "", boxes[place + 1]] for place in range(0, len(boxes), 2)]
    style = [
        ("LINEABOVE", (0, 0), (0, -1), ink.HEAVY, ink.INK),
        ("LINEABOVE", (2, 0), (2, -1), ink.HEAVY, ink.INK),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 12),
    ]
    gap = 8 * mm
    half = (room.width - gap) / 2
    return [*_heading(section.heading), laid_table(rows, [half, gap, half], style, room.height)]


def _signature(entry: Signature) -> Flow:
    parts = [
        paragraph(entry.meaning, ink.SIGNED_MEANING),
        paragraph(entry.name, ink.SIGNED_NAME),
        paragraph(entry.certificate, ink.CELL),
        paragraph(moment_words(entry.signed_at), ink.SIGNED_TIME),
    ]
    if entry.details:
        parts.append(paragraph(entry.details, ink.SIGNED_MEANING))
    return parts


def _heading(text: str) -> Flow:
    """A heading that never stands alone at the foot of a page."""
    return [CondPageBreak(38 * mm), paragraph(text, ink.HEADING)] if text else []


def _note(text: str) -> Flow:
    return [paragraph(text, ink.NOTE)] if text else []


class _NumberedText(MarkedText):
    """Text led by the flag of a chart event."""

    number = 0

    def draw(self) -> None:
        """Flag first, then the text."""
        if self.number:
            draw_flag(self.canv, self.number, 6, self.height - 9.5)
        super().draw()


def _numbered(number: int, on: Any, words: str) -> _NumberedText:
    text = _NumberedText(markup(f"{day_words(on)}  {words}"), ink.EVENT)
    text.number = number
    return text
