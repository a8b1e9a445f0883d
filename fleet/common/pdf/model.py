"""What a printed page says, before anything is drawn: plain text, frozen, in reading order.

Every text is plain: no markup, line breaks allowed. Numbers arrive as written, with their unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum


class Level(StrEnum):
    """How urgent a mark is; drawn as filled square, half square, ring and broken ring."""

    STOP = "stop"
    SOON = "soon"
    CLEAR = "clear"
    UNKNOWN = "unknown"


class Align(StrEnum):
    """On which side of its column a cell's text stands; figures stand right."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Mark:
    """A shape and its word: `Mark(Level.CLEAR, "PASS")`. The word says it, the shape repeats it."""

    level: Level
    word: str


@dataclass(frozen=True, slots=True)
class Gauge:
    """Where a value stands between its limits, as a small scale; a missing limit leaves that side open."""

    value: Decimal
    low: Decimal | None = None
    high: Decimal | None = None


Cell = str | Mark | Gauge


@dataclass(frozen=True, slots=True)
class Band:
    """A table row that names the group of rows beneath it."""

    text: str


@dataclass(frozen=True, slots=True)
class Column:
    """A table column; `share` is its part of the page width relative to the other columns."""

    heading: str
    share: int = 10
    align: Align = Align.LEFT

    def __post_init__(self) -> None:
        if self.share < 1:
            raise ValueError(f"column {self.heading!r}: share {self.share} is below 1; give 1 or more")


@dataclass(frozen=True, slots=True)
class KeyValues:
    """Facts in a grid of labelled boxes: `KeyValues((("Registration", "QX-SKA"),))`."""

    pairs: tuple[tuple[str, str], ...]
    heading: str = ""
    columns: int = 3

    def __post_init__(self) -> None:
        if not 1 <= self.columns <= 6:
            raise ValueError(f"columns {self.columns}: give 1 to 6")


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings that repeat on every page; `empty` is said where there are no rows."""

    columns: tuple[Column, ...]
    rows: tuple[Sequence[Cell] | Band, ...]
    heading: str = ""
    empty: str = "Nothing to list."
    note: str = ""

    def __post_init__(self) -> None:
        if not self.columns:
            raise ValueError("columns: a table needs at least one column")
        for number, row in enumerate(self.rows, 1):
            if isinstance(row, str):
                raise TypeError(f"row {number}: a row is a sequence of cells, not one text")
            if not isinstance(row, Band) and len(row) != len(self.columns):
                raise ValueError(f"row {number}: {len(row)} cells under {len(self.columns)} columns")


@dataclass(frozen=True, slots=True)
class Paragraphs:
    """Running text."""

    texts: tuple[str, ...]
    heading: str = ""


@dataclass(frozen=True, slots=True)
class Cautions:
    """What must be read before the step it concerns; boxed and headed so that it cannot be overlooked."""

    texts: tuple[str, ...]
    heading: str = "Caution"


@dataclass(frozen=True, slots=True)
class Notice:
    """One boxed statement about the whole page, such as an amendment."""

    text: str
    level: Level = Level.UNKNOWN
    heading: str = ""


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One reading; `outside` draws it as outside its limits, as the verdict said at the time."""

    on: date
    value: Decimal | float
    outside: bool = False


@dataclass(frozen=True, slots=True)
class ChartSeries:
    """Readings of one place, or with `fitted` a line without marks, such as a fitted trend."""

    name: str
    points: tuple[ChartPoint, ...]
    fitted: bool = False


@dataclass(frozen=True, slots=True)
class ChartLimit:
    """A level line with its words, such as "maximum 2,150 mL"."""

    value: Decimal
    words: str


@dataclass(frozen=True, slots=True)
class ChartEvent:
    """Something that happened on a day; readings before and after it are not joined."""

    on: date
    words: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Readings over time with limits and numbered events; the words of the events stand beneath."""

    heading: str
    unit: str
    series: tuple[ChartSeries, ...]
    limits: tuple[ChartLimit, ...] = ()
    events: tuple[ChartEvent, ...] = ()
    note: str = ""
    empty: str = "No readings yet."


@dataclass(frozen=True, slots=True)
class Signature:
    """Who signed what, with which certificate, and when; the time carries its zone and is printed in UTC."""

    name: str
    certificate: str
    meaning: str
    signed_at: datetime
    details: str = ""

    def __post_init__(self) -> None:
        if self.signed_at.utcoffset() is None:
            raise ValueError(f"signed_at {self.signed_at}: has no time zone; give a time with its zone")


@dataclass(frozen=True, slots=True)
class Signatures:
    """The signatures under a record; `empty` is said where nobody has signed."""

    entries: tuple[Signature, ...]
    heading: str = "Signatures"
    empty: str = "Not signed."


Section = KeyValues | Table | Paragraphs | Cautions | Notice | Chart | Signatures


@dataclass(frozen=True, slots=True)
class Document:
    """One printed document. Registration and number stand on every page, the digest at every foot.

    `identity` is the first block of facts. `standing` is boxed in every header where the paper is not the final
    word ("draft, not signed"). `qr_text` is what the code beside the title says, `qr_words` what it is for.
    `written_at` becomes the file's own date; without it the file carries a fixed one. `wide` turns the page.
    """

    title: str
    sections: tuple[Section, ...] = ()
    subtitle: str = ""
    issuer: str = ""
    registration: str = ""
    number: str = ""
    identity: tuple[tuple[str, str], ...] = ()
    standing: str = ""
    digest: str = ""
    qr_text: str = ""
    qr_words: str = ""
    printed: str = ""
    written_at: datetime | None = None
    wide: bool = False

    def __post_init__(self) -> None:
        if self.written_at is not None and self.written_at.utcoffset() is None:
            raise ValueError(f"written_at {self.written_at}: has no time zone; give a time with its zone")
