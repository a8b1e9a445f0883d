"""The due list on paper, and one due item explained: the same words as on screen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from fleet.common.pdf.model import Band, Cell, Column, Document, KeyValues, Level, Mark, Paragraphs, Table
from fleet.common.pdf.render import render
from fleet.common.wording import moment as moment_words
from scheduling.selectors.due_item import DueExplained, DueRow

MOST_ROWS = 2_000
COLUMNS = (
    Column("State", 14),
    Column("Aircraft", 10),
    Column("Item", 34),
    Column("What is left", 34),
    Column("Projected, with 80 % interval", 34),
    Column("Stops when overdue", 18),
)
SAFETY = (
    "The aircraft's approved maintenance data, the authority's rules and licensed staff decide; "
    "this list does not replace them."
)


def due_list_pdf(rows: Sequence[DueRow], issuer: str, filters: str, written_at: datetime) -> bytes:
    """The list as it stands on screen, grouped by aircraft where its rows are in that order."""
    stands = moment_words(written_at)
    document = Document(
        title="Due list",
        subtitle=filters or "Everything that is due or will be",
        issuer=issuer,
        sections=(
            Table(COLUMNS, tuple(_rows(rows)), empty="Nothing fits these filters."),
            Paragraphs((SAFETY,)),
        ),
        identity=(("As of", stands), ("Items", str(len(rows)))),
        printed=stands,
        written_at=written_at,
        wide=True,
    )
    return render(document)


def _rows(rows: Iterable[DueRow]) -> Iterator[Sequence[Cell] | Band]:
    for row in rows:
        item = "\n".join(part for part in (f"{row.code} {row.title}", row.subject, row.place) if part)
        yield (
            Mark(Level(row.level), row.state_words),
            row.registration or "in store",
            item,
            row.words + ("\nvariation granted" if row.is_varied else ""),
            row.projection,
            row.stops,
        )


def due_item_pdf(found: DueExplained, issuer: str, written_at: datetime) -> bytes:
    """One due item and why it is due when it is."""
    row = found.row
    stands = moment_words(written_at)
    limits = Table(
        (Column("Limit", 14), Column("State", 12), Column("How it stands", 40), Column("Projected", 34)),
        tuple(
            (one.measure, Mark(Level(one.level), one.state_words), one.words, one.projection)
            for one in found.limits
        ),
        heading="Limits",
        note=found.rule,
    )
    document = Document(
        title=row.title,
        subtitle=f"{row.state_words}: {row.words}",
        issuer=issuer,
        registration=row.registration,
        number=row.code,
        sections=(
            KeyValues(
                (("Last done", found.last_done or "not recorded"), ("Record", found.proof or "none"),
                 ("Source", found.source)),
            ),
            limits,
            Paragraphs(row.explanation, heading="Why"),
            Paragraphs((SAFETY,)),
        ),
        identity=(("Subject", row.subject or row.registration), ("ATA", row.ata), ("Stops when overdue", row.stops)),
        printed=stands,
        written_at=written_at,
    )  # fmt: skip
    return render(document)
