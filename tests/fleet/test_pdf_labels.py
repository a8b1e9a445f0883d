"""Label sheets: places, sheets, codes, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet.common.errors import Invalid
from fleet.common.pdf.labels import A4_24, LETTER_30, Label, SheetLayout, render_labels
from fleet.common.pdf.render import Paper
from fleet.common.pdf.shapes import square_code


def labels(count: int) -> list[Label]:
    return [
        Label((f"QX-{number:03d}", "Ptarmigan 300"), f"https://verglas.example/a/{number}")
        for number in range(count)
    ]


def pages(count: int, sheet: SheetLayout = A4_24) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(render_labels(labels(count), sheet))).pages]


@pytest.mark.parametrize(
    ("count", "sheet", "sheets"),
    [
        (1, A4_24, 1),
        (24, A4_24, 1),
        (25, A4_24, 2),
        (30, LETTER_30, 1),
        (31, LETTER_30, 2),
        (24, replace(A4_24, skip=1), 2),
        (1, replace(A4_24, skip=23), 1),
    ],
)
def test_labels_fill_sheets_from_the_first_free_place(count: int, sheet: SheetLayout, sheets: int) -> None:
    found = pages(count, sheet)
    assert len(found) == sheets
    text = "\n".join(found)
    assert all(f"QX-{number:03d}" in text for number in range(count))


def test_the_same_labels_give_the_same_bytes() -> None:
    assert render_labels(labels(9)) == render_labels(labels(9))
    assert render_labels(labels(9)) != render_labels(labels(10))


def test_faces_are_embedded_and_the_sheet_has_its_size() -> None:
    page = PdfReader(BytesIO(render_labels(labels(2), LETTER_30))).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == (612, 792)
    for font in page["/Resources"]["/Font"].values():
        assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()


def test_a_long_label_is_cut_with_an_ellipsis() -> None:
    label = Label(("Porous panel, left wing, position 3", "Part and serial " * 60), "x")
    text = PdfReader(BytesIO(render_labels([label]))).pages[0].extract_text()
    assert "Porous panel" in text
    assert text.rstrip().endswith("…")


def test_a_label_without_lines_still_shows_its_code() -> None:
    assert render_labels([Label((), "x")]).startswith(b"%PDF")


def test_the_square_code_has_its_three_finder_patterns() -> None:
    """ISO/IEC 18004: seven by seven modules in three corners; a short text needs 21 modules a side (version 1)."""
    code = square_code("QX-SKA")
    finder = [b"\1\1\1\1\1\1\1", b"\1\0\0\0\0\0\1", b"\1\0\1\1\1\0\1", b"\1\0\1\1\1\0\1", b"\1\0\1\1\1\0\1"]
    finder += [finder[1], finder[0]]
    assert len(code) == 21
    assert [row[:7] for row in code[:7]] == finder
    assert [row[-7:] for row in code[:7]] == finder
    assert [row[:7] for row in code[-7:]] == finder


def test_nothing_to_print_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one label"):
        render_labels([])


def test_a_code_too_long_for_paper_is_refused() -> None:
    with pytest.raises(Invalid):
        render_labels([Label(("x",), "ä" * 181)])


@pytest.mark.parametrize(
    "wrong",
    [
        {"skip": 24},
        {"skip": -1},
        {"columns": 0},
        {"columns": 4},
        {"rows": 9},
        {"width": 10.0},
        {"left": -1.0},
        {"paper": Paper.LETTER},
    ],
)
def test_a_layout_that_cannot_be_printed_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"\d"):
        replace(A4_24, **wrong)
