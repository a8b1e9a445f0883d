"""Printed documents: what stands on every page, what wraps, what stays the same byte for byte."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from fleet.common.errors import Invalid
from fleet.common.pdf.faces import FOLDER, printable, shortened, width_of
from fleet.common.pdf.frame import SAFETY
from fleet.common.pdf.model import (
    Align,
    Band,
    Cautions,
    Chart,
    ChartEvent,
    ChartLimit,
    ChartPoint,
    ChartSeries,
    Column,
    Document,
    Gauge,
    KeyValues,
    Level,
    Mark,
    Notice,
    Paragraphs,
    Signature,
    Signatures,
    Table,
)
from fleet.common.pdf.render import Paper, render

DIGEST = "9f4238ff4b1fad095292bb87177faab97387df45bcf88135921e9cfef5c32e96"

READINGS = Table(
    (
        Column("What was measured", 30),
        Column("Reading", 12, Align.RIGHT),
        Column("Margin", 12, Align.RIGHT),
        Column("Between limits", 14),
        Column("Verdict", 12),
    ),
    (
        (
            "Collected, left wing",
            "1,480 mL",
            "+230 mL",
            Gauge(Decimal(1480), Decimal(1250), Decimal(2150)),
            Mark(Level.CLEAR, "PASS"),
        ),
        (
            "Collected, right wing",
            "1,190 mL",
            "−60 mL",
            Gauge(Decimal(1190), Decimal(1250), Decimal(2150)),
            Mark(Level.STOP, "FAIL"),
        ),
    ),
    heading="Readings and verdicts",
)

SIGNATURES = Signatures(
    (
        Signature(
            "Ida Holm",
            "Licence B1, no. NV.66.1042",
            "Performed the work as described",
            datetime(2026, 3, 14, 9, 30, 5, tzinfo=UTC),
        ),
        Signature(
            "Oskar Lindqvist-Håkansson",
            "Licence B1, no. NV.66.0817",
            "Inspected the work independently",
            datetime(2026, 3, 14, 10, 41, 0, tzinfo=timezone(timedelta(hours=1))),
        ),
    )
)

CHART = Chart(
    "Collected in 5 minutes",
    "mL",
    (
        ChartSeries(
            "Left wing",
            tuple(
                ChartPoint(date(2025, month, 3), Decimal(1700 - 20 * month), month > 10)
                for month in range(1, 13)
            ),
        ),
        ChartSeries(
            "Fitted fall",
            (ChartPoint(date(2025, 1, 3), 1690.5), ChartPoint(date(2025, 12, 3), 1462.25)),
            True,
        ),
    ),
    (ChartLimit(Decimal(1250), "minimum 1,250 mL"), ChartLimit(Decimal(2150), "maximum 2,150 mL")),
    (
        ChartEvent(date(2025, 6, 20), "Left wing panel 3 replaced"),
        ChartEvent(date(2025, 6, 22), "Filter replaced"),
    ),
)

RECORD = Document(
    title="Panel flow test",
    subtitle="Signed record of work performed",
    issuer="Skerry Air Links",
    registration="QX-SKA",
    number="QX-SKA-000012",
    identity=(("Base", "Norrvik"), ("Flight hours", "1,304:30")),
    digest=DIGEST,
    qr_text="https://verglas.example/records/QX-SKA-000012",
    written_at=datetime(2026, 3, 14, 11, 2, tzinfo=timezone(timedelta(hours=1))),
    sections=(
        Cautions(("Fluid on the floor is slippery.",)),
        READINGS,
        CHART,
        Notice("The right wing delivered too little.", Level.STOP, "Outcome"),
        Paragraphs(("All outlets wet after 2 min 40 s.",), "Remarks"),
        SIGNATURES,
    ),
)


def read(document: Document, paper: Paper = Paper.A4) -> PdfReader:
    return PdfReader(BytesIO(render(document, paper)))


def texts(document: Document) -> list[str]:
    return [page.extract_text() for page in read(document).pages]


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def long_list(rows: int) -> Document:
    lines = tuple(
        (f"Item {number}", "14 Mar 2026", Mark(Level.SOON, "due soon")) for number in range(1, rows + 1)
    )
    return Document(
        "Due list", (Table((Column("Requirement"), Column("Projected"), Column("Standing")), lines),)
    )


def test_a_record_says_everything_it_was_given() -> None:
    text = "\n".join(texts(RECORD))
    for words in (
        "Panel flow test",
        "Signed record of work performed",
        "Norrvik",
        "1,304:30",
        "CAUTION",
        "Fluid on the floor is slippery.",
        "1,190 mL",
        "−60 mL",
        "FAIL",
        "maximum 2,150 mL",
        "Left wing panel 3 replaced",
        "filled and ringed: outside its limits",
        "The right wing delivered too little.",
        "Ida Holm",
        "Oskar Lindqvist-Håkansson",
        "Licence B1, no. NV.66.0817",
        "Inspected the work independently",
    ):
        assert words in text, words


def test_signature_times_are_printed_in_utc() -> None:
    text = "\n".join(texts(RECORD)).replace("\u00a0", " ")
    assert "14 Mar 2026 09:30:05 UTC" in text
    assert "14 Mar 2026 09:41:00 UTC" in text


def test_every_page_carries_registration_number_safety_sentence_digest_and_count() -> None:
    pages = texts(RECORD)
    assert len(pages) == 2
    for number, text in enumerate(pages, 1):
        assert "QX-SKA" in text
        assert "QX-SKA-000012" in text
        assert SAFETY in text
        assert f"SHA-256 {DIGEST}" in text
        assert f"Page {number} of 2" in text


def test_the_safety_sentence_is_word_for_word() -> None:
    assert SAFETY == (
        "The aircraft's approved maintenance data, the authority's rules and licensed staff decide; "
        "this tool does not replace them."
    )


def test_the_same_document_gives_the_same_bytes_in_another_process() -> None:
    program = (
        "import sys, hashlib; sys.path.insert(0, sys.argv[1]);"
        "from importlib.util import spec_from_file_location, module_from_spec;"
        "spec = spec_from_file_location('documents', sys.argv[2]); module = module_from_spec(spec);"
        "sys.modules['documents'] = module; spec.loader.exec_module(module);"
        "print(hashlib.sha256(module.render(module.RECORD)).hexdigest())"
    )
    here = hashlib.sha256(render(RECORD)).hexdigest()
    root = Path(__file__).resolve().parents[2]
    for seed in ("1", "2"):
        answer = subprocess.run(
            [sys.executable, "-c", program, str(root), __file__],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        assert answer.stdout.strip() == here
    assert hashlib.sha256(render(RECORD)).hexdigest() == here


def test_a_document_that_differs_in_one_letter_gives_other_bytes() -> None:
    assert render(Document("Due list", (Paragraphs(("a",)),))) != render(
        Document("Due list", (Paragraphs(("b",)),))
    )


def test_every_face_used_is_embedded() -> None:
    for document in (RECORD, long_list(3), Document("Empty")):
        faces = {
            name: font.get_object()
            for page in read(document).pages
            for name, font in page["/Resources"]["/Font"].items()
        }
        assert faces
        for font in faces.values():
            assert "DejaVuSans" in font["/BaseFont"]
            assert "/FontFile2" in font["/FontDescriptor"].get_object()


def test_the_file_names_its_language_title_and_own_date() -> None:
    reader = read(RECORD)
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.metadata is not None
    assert reader.metadata.title == "Panel flow test QX-SKA-000012"
    assert reader.metadata.author == "Skerry Air Links"
    assert reader.metadata.creation_date == datetime(2026, 3, 14, 10, 2, tzinfo=UTC)


@pytest.mark.parametrize(
    ("paper", "wide", "size"),
    [(Paper.A4, False, (595, 842)), (Paper.A4, True, (842, 595)), (Paper.LETTER, False, (612, 792))],
)
def test_the_sheet_is_the_one_asked_for(paper: Paper, wide: bool, size: tuple[int, int]) -> None:
    box = read(Document("Sheet", wide=wide), paper).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


def test_headings_repeat_on_every_page_and_no_row_is_lost_or_doubled() -> None:
    pages = texts(long_list(200))
    assert len(pages) > 4
    assert all("Requirement" in text and "Standing" in text for text in pages)
    assert re.findall(r"Item (\d+)", "\n".join(pages)) == [str(number) for number in range(1, 201)]


def test_a_band_never_stands_alone_at_the_foot_of_a_page() -> None:
    rows: list[tuple[str, ...] | Band] = []
    for group in range(60):
        rows.append(Band(f"Group {group}."))
        rows.extend((f"Row {group}.{number}",) for number in range(1 + group % 3))
    pages = texts(Document("Bands", (Table((Column("What"),), tuple(rows)),)))
    lines = [[line for line in text.splitlines() if re.match(r"(Group|Row) ", line)] for text in pages]
    assert len(pages) > 2
    assert sum(map(len, lines)) == len(rows)
    assert not any(page[-1].startswith("Group") for page in lines)


def test_a_row_higher_than_a_page_flows_on_without_losing_a_word() -> None:
    words = [f"w{number}" for number in range(3000)]
    rows = (("before", "x"), (" ".join(words), "y"), ("after", "z"))
    pages = texts(Document("Tall", (Table((Column("Text", 30), Column("Mark", 5)), rows),)))
    assert re.findall(r"\bw\d+", " ".join(pages)) == words
    assert "before" in pages[0]
    assert "w0" in pages[0]
    assert "after" in pages[-1]
    assert all(text.count("Mark") == 1 for text in pages)


@pytest.mark.parametrize("wide", [False, True])
def test_words_longer_than_a_line_are_broken_and_nothing_is_lost(wide: bool) -> None:
    word = "".join(f"{number:04d}" for number in range(900))
    where = (
        KeyValues((("Long", word),)),
        Table((Column("A", 1), Column("B", 9)), (("x", word),)),
        Paragraphs((word,)),
        Cautions((word,)),
        Notice(word),
        Signatures((Signature("N", word, "M", datetime(2026, 1, 1, tzinfo=UTC)),)),
    )
    for section in where:
        drawn = "".join(page.extract_text() for page in read(Document("Long", (section,), wide=wide)).pages)
        assert word in re.sub(r"[^0-9]", "", re.sub(r"Page \d+ of \d+", "", drawn))


def test_markup_and_control_characters_are_printed_not_obeyed() -> None:
    text = texts(
        Document(
            "<b>Bold & co</b>", (Paragraphs(("1 < 2 <script>x</script> &amp;", "a\x07b\tc", "中😀"), "<i>"),)
        )
    )[0]
    assert "<b>Bold & co</b>" in text
    assert "1 < 2 <script>x</script> &amp;" in text
    assert "a[U+0007]b c" in text
    assert "[U+4E2D][U+1F600]" in text


def test_what_has_no_rows_no_points_or_no_signature_says_so() -> None:
    text = texts(
        Document(
            "Empty",
            (
                Table((Column("A"),), ()),
                Table((Column("A"),), (), empty="No task is open."),
                Chart("Trend", "mL", (ChartSeries("Left", ()),)),
                Signatures(()),
                KeyValues(()),
                Paragraphs(()),
                Cautions(()),
            ),
        )
    )[0]
    for words in ("Nothing to list.", "No task is open.", "No readings yet.", "Not signed."):
        assert words in text
    assert "CAUTION" not in text


@pytest.mark.parametrize("points", [1, 2, 400])
def test_a_chart_draws_one_reading_two_on_one_day_and_many(points: int) -> None:
    series = tuple(
        ChartPoint(date(2026, 1, 1) + timedelta(days=number // 2), Decimal(number))
        for number in range(points)
    )
    assert len(read(Document("Chart", (Chart("C", "V", (ChartSeries("s", series),)),))).pages) == 1


def test_the_standing_of_a_draft_is_on_every_page() -> None:
    document = Document("Draft", long_list(120).sections, standing="draft, not signed")
    pages = texts(document)
    assert len(pages) > 2
    assert all("DRAFT, NOT SIGNED" in text for text in pages)


def test_a_code_too_long_to_read_from_paper_is_refused() -> None:
    with pytest.raises(Invalid) as refusal:
        render(Document("Code", qr_text="q" * 361))
    assert refusal.value.code == "code_too_long"
    assert refusal.value.reasons[0].field == "qr_text"
    assert refusal.value.reasons[0].remedy == "give at most 360 bytes"


def test_a_row_with_too_few_cells_is_refused_with_its_number() -> None:
    with pytest.raises(ValueError, match="row 2: 1 cells under 2 columns"):
        Table((Column("A"), Column("B")), (("1", "2"), ("3",)))


def test_times_without_a_zone_are_refused() -> None:
    naive = datetime(2026, 3, 14)
    with pytest.raises(ValueError, match="no time zone"):
        Signature("N", "C", "M", naive)
    with pytest.raises(ValueError, match="no time zone"):
        Document("D", written_at=naive)


def test_short_text_stays_and_long_text_ends_in_an_ellipsis_that_fits() -> None:
    assert shortened("QX-SKA", "VerglasText", 8, 200) == "QX-SKA"
    cut = shortened("A title that never ends " * 9, "VerglasText", 8, 120)
    assert cut.startswith("A title that never ends")
    assert cut.endswith("…")
    assert width_of(cut, "VerglasText", 8) <= 120


def test_printable_text_keeps_what_the_faces_can_draw() -> None:
    assert printable("ß Ω č å 5 °C ± 0.5 − ≤ ≥ × “x” – …") == "ß Ω č å 5 °C ± 0.5 − ≤ ≥ × “x” – …"
    assert printable("a\r\nb\rc") == "a\nb\nc"


def test_the_faces_are_the_files_their_manifest_names() -> None:
    rows = json.loads((FOLDER / "manifest.json").read_text())["vendored"]
    assert {row["file"] for row in rows} == {path.name for path in FOLDER.glob("*.ttf")}
    for row in rows:
        assert hashlib.sha256((FOLDER / row["file"]).read_bytes()).hexdigest() == row["sha256"]
        assert (FOLDER / row["licence_file"]).exists()
