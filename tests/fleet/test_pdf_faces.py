"""Short ways to a page: what they give is what the long way gives."""

from __future__ import annotations

from fleet.common.pdf.faces import printable
from fleet.common.pdf.model import Document
from fleet.common.pdf.render import render


def test_text_taken_whole_and_text_taken_letter_by_letter_are_the_same() -> None:
    """Text of known letters only is not looked at one by one; what would change must never pass that way."""
    for number in (*range(0xD800), *range(0xE000, 0x11000)):
        letter = chr(number)
        assert printable(letter) == printable(f"{letter}\u4e2d").removesuffix("[U+4E2D]")


def test_pages_are_written_as_bytes_without_a_detour_through_letters() -> None:
    assert b"ASCII85" not in render(Document(title="Plain"))
