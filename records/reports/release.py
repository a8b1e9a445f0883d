"""A sealed record on paper: everything it says, drawn from the sealed text itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from fleet.common.pdf.model import (
    Align,
    Cell,
    Column,
    Document,
    Gauge,
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
from fleet.common.wording import day as day_words
from fleet.common.wording import moment as moment_words
from fleet.quantities import to_decimal, unit_of
from records.judge.terms import display_decimal
from records.models import SignedRecord
from records.reports.provisions import provisions
from records.selectors.answer_words import answer_words
from records.selectors.signed import is_whole, payload_of
from scheduling.limits.kinds import AllYesLimit, PairLimit, RatioLimit, limit_from_data

LEVELS = {"pass": Level.CLEAR, "fail": Level.STOP}
PLACES = 6
BROKEN = "Seal broken: do not rely on this"
MEASURED = ("point", "precondition", "duty")


def record_document(record: SignedRecord, address: str) -> Document:
    """The page model of a record; `address` is where it can be read, printed as a square code."""
    payload = payload_of(record)
    is_amendment = record.kind == SignedRecord.Kind.AMENDMENT
    sections = _amendment_sections(payload) if is_amendment else _work_sections(payload)
    return Document(
        title=record.title,
        subtitle=_subtitle(record, payload),
        sections=(*_notices(record), *sections, _signatures(payload)),
        issuer=record.operator.name,
        registration=payload["aircraft"]["registration"],
        number=record.number,
        identity=_identity(payload),
        standing="" if is_whole(record) else BROKEN,
        digest=record.digest,
        qr_text=address,
        qr_words="Scan to read this record where it is kept.",
        printed=f"Sealed {moment_words(record.sealed_at)}",
        written_at=record.sealed_at,
    )


def _subtitle(record: SignedRecord, payload: Mapping[str, Any]) -> str:
    if record.kind == SignedRecord.Kind.AMENDMENT:
        return "Amendment of a signed record"
    procedure = payload["procedure"]
    kind = "Inspection entry" if record.kind == SignedRecord.Kind.INSPECTION else "Work entry"
    return f"{kind} per {procedure['approved_data']} revision {procedure['revision']}"


def _notices(record: SignedRecord) -> Iterable[Notice]:
    if not is_whole(record):
        words = "The text below no longer gives the digest it was sealed with: it was changed afterwards."
        yield Notice(words, Level.STOP, BROKEN)
    for amendment in record.amendments.all():
        words = f"Amended by {amendment.number} of {day_words(amendment.completed_on)}. Read both together."
        yield Notice(words, Level.SOON, "Amended")
    if record.verdict and record.verdict != "pass":
        words = f"This run says {_said(record.verdict)}. It closed no task: the work stands open again."
        yield Notice(words, LEVELS.get(record.verdict, Level.UNKNOWN), _said(record.verdict))


def _said(outcome: str) -> str:
    return outcome.upper().replace("_", " ")


def _mark(outcome: str) -> Mark:
    return Mark(LEVELS.get(outcome, Level.UNKNOWN), _said(outcome))


def _identity(payload: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    aircraft = payload["aircraft"]
    pairs = [
        ("Aircraft", aircraft["registration"]),
        ("Type", aircraft["type"]),
        ("Serial number", aircraft["serial_number"]),
        ("Completed on", day_words(date.fromisoformat(payload["completed_on"]))),
    ]
    if "procedure" in payload:
        procedure = payload["procedure"]
        pairs += [
            ("Total time in service", f"{aircraft['time_in_service']} h"),
            ("Landings", aircraft["landings"]),
            ("Procedure", f"{procedure['code']} version {procedure['version']}"),
            ("ATA chapter", procedure["ata"]),
            ("Run", str(payload["run"])),
            ("Performed by", payload["performed_by"]),
            ("Begun", _moment(payload["started_at"])),
            ("Finished", _moment(payload["finished_at"])),
        ]
    return tuple(pairs)


def _moment(written: str) -> str:
    return moment_words(datetime.fromisoformat(written))


def _amendment_sections(payload: Mapping[str, Any]) -> list[Section]:
    amends = payload["amends"]
    return [
        KeyValues((("Amends", amends["record"]), ("Its digest", amends["digest"])), columns=1),
        Paragraphs((payload["reason"],), heading="Why"),
        Paragraphs((payload["text"],), heading="What the record should read"),
    ]


def _work_sections(payload: Mapping[str, Any]) -> list[Section]:
    sections: list[Section] = []
    if payload["task"]["why"]:
        sections.append(Paragraphs(tuple(dict.fromkeys(payload["task"]["why"])), heading="Why this was done"))
    sections += _events(payload["task"])
    sections.append(_readings(payload))
    sections.append(_steps(payload))
    sections += provisions(payload)
    if "statement" in payload:
        sections.append(Paragraphs((payload["statement"],), heading="Statement"))
    if payload.get("discrepancies"):
        sections.append(Paragraphs(tuple(payload["discrepancies"]), heading="Discrepancies"))
    return sections


def _events(task: Mapping[str, Any]) -> list[Section]:
    rows = [
        (
            row["kind"],
            _moment(row["at"]),
            row["position"],
            "\n".join(
                part
                for part in (
                    f"off: {row['component_off']}" if row["component_off"] else "",
                    f"on: {row['component_on']}" if row["component_on"] else "",
                )
                if part
            ),
        )
        for row in task["events"]
    ]
    if not rows:
        return []
    columns = (Column("What happened", 24), Column("When", 20), Column("Where", 18), Column("Parts", 44))
    return [Table(columns, tuple(rows), heading="Events behind it")]


def _readings(payload: Mapping[str, Any]) -> Table:
    written: dict[str, list[Mapping[str, Any]]] = {}
    for row in payload["measurements"]:
        written.setdefault(row["point"], []).append(row)
    parts = [part for part in payload["verdict_detail"]["parts"] if part["part"] in MEASURED]
    return Table(
        (
            Column("What was measured", 26),
            Column("As written", 16, Align.RIGHT),
            Column("Allowed", 26),
            Column("Margin", 14, Align.RIGHT),
            Column("Between limits", 14),
            Column("Verdict", 14),
        ),
        tuple(_reading(part, written.get(part["key"], [])) for part in parts),
        heading=f"Readings and verdicts: {_said(payload['verdict'])}",
        note=_note(payload),
        empty="Nothing was measured.",
    )


def _note(payload: Mapping[str, Any]) -> str:
    detail = payload["verdict_detail"]
    if detail["outcome"] == detail["measured"]:
        return str(detail["reason"])
    return f"{detail['reason']}. The readings alone came to {_said(detail['measured'])}."


def _reading(part: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> tuple[Cell, ...]:
    return (
        "\n".join([part["label"], *part["notes"]]),
        "\n".join(_as_written(row) for row in rows) or _computed(part),
        part["allowed"],
        _margin(part),
        _gauge(part),
        _mark(part["outcome"]),
    )


def _as_written(row: Mapping[str, Any]) -> str:
    unit = unit_of(row["unit"]).label
    if row["detail"].get("method") == "weighed":
        detail = row["detail"]
        text = f"{row['value']} {unit} gross, {detail['tare']} {unit} tare, {detail['celsius']} °C"
    else:
        text = f"{row['value']} {unit}"
    return text if row["counts"] else f"({text}, repeated)"


def _computed(part: Mapping[str, Any]) -> str:
    if part["value"] is None or part["part"] == "duty":
        return ""
    return f"{display_decimal(Fraction(part['value'])):f} {unit_of(part['unit']).label}".strip()


def _margin(part: Mapping[str, Any]) -> str:
    shown = part["margin_shown"]
    if shown is None or part["limit"].get("kind") == "all_yes":
        return ""
    sign = "" if shown.startswith("-") else "+"
    return f"{sign}{shown} {unit_of(part['unit']).label}".replace("-", "−").strip()


def _gauge(part: Mapping[str, Any]) -> Cell:
    if part["part"] == "duty" or part["value"] is None:
        return ""
    limit = limit_from_data(part["limit"])
    if isinstance(limit, PairLimit | RatioLimit | AllYesLimit):
        return ""
    bounds = limit.bounds()
    low, high = (None if end is None else to_decimal(end, PLACES) for end in (bounds.low, bounds.high))
    return Gauge(to_decimal(Fraction(part["value"]), PLACES), low, high)


def _steps(payload: Mapping[str, Any]) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            str(number),
            row["title"],
            answer_words(row["answer"])
            + (f"\nrepeated: {row['repeat_reason']}" if row["repeat_reason"] else "")
            + ("" if row["counts"] else "\n(repeated later; does not count)"),
            row["words"],
            f"{_moment(row['captured_at'])}\n{row['by']}",
        )
        for number, row in enumerate(payload["answers"], 1)
    ]
    columns = (
        Column("", 5, Align.RIGHT),
        Column("Step", 26),
        Column("Answer", 30),
        Column("Came to", 34),
        Column("When and who", 24),
    )
    return Table(columns, tuple(rows), heading="Steps as worked")


def _signatures(payload: Mapping[str, Any]) -> Signatures:
    return Signatures(
        tuple(
            Signature(
                name=row["name"],
                certificate=f"{row['certificate_kind']}, no. {row['certificate_number']}",
                meaning=row["meaning"][:1].upper() + row["meaning"][1:],
                signed_at=datetime.fromisoformat(row["signed_at"]),
                details=f"Authorisation {row['authorisation']}; proven by {row['proof']}; "
                f"content {row['content_digest'][:16]}…",
            )
            for row in payload["signatures"]
        )
    )
