"""Plain text as flowing paragraphs, and moments in words."""

from __future__ import annotations

from datetime import UTC, datetime
from xml.sax.saxutils import escape

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph

from fleet.common.pdf.faces import load_faces, printable
from fleet.common.wording import day


def markup(text: str) -> str:
    """Plain text in the paragraph language, with line breaks kept: `markup("a<b")` is `a&lt;b`."""
    return escape(printable(text)).replace("\n", "<br/>")


def paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    """Plain text that wraps, breaking words longer than its line."""
    load_faces()
    return Paragraph(markup(text), style)


def labelled(label: str, text: str, style: ParagraphStyle) -> Paragraph:
    """A small label with its value on the line beneath."""
    load_faces()
    small = f'<font size="7" color="#4b545c">{markup(label)}</font>'
    return Paragraph(f"{small}<br/>{markup(text) or '–'}", style)


def moment_words(moment: datetime) -> str:
    """An aware time in UTC to the second: "14 Mar 2026 09:30:05 UTC"."""
    in_utc = moment.astimezone(UTC)
    return f"{day(in_utc)}\u00a0{in_utc:%H:%M:%S}\u00a0UTC"
