"""Bring in a programme, and what was last done, from a file: looked at first, then all of it or nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.errors import Invalid, NotFound, Reason, Refusal
from fleet.models import Aircraft, Component
from fleet.services.trail import note
from scheduling.due.parse import limits_from_data, limits_to_data
from scheduling.gather.sheet import Sheet, read_sheet
from scheduling.models import Requirement
from scheduling.services.applicability import apply_requirement, apply_to
from scheduling.services.programme_rows import (
    LAST_DONE_FIELDS,
    PROGRAMME_FIELDS,
    Row,
    last_done_of_row,
    requirement_of_row,
    wrong,
)
from scheduling.services.requirements import WrittenRequirement, write_requirement

MOST_ERRORS = 200


class Kind(StrEnum):
    """What a file holds."""

    PROGRAMME = "programme"
    LAST_DONE = "last_done"


FIELDS: Mapping[Kind, Mapping[str, tuple[str, ...]]] = {
    Kind.PROGRAMME: PROGRAMME_FIELDS,
    Kind.LAST_DONE: LAST_DONE_FIELDS,
}
NEEDED = {Kind.PROGRAMME: ("code", "title", "ata", "source"), Kind.LAST_DONE: ("code",)}


@dataclass(frozen=True, slots=True)
class Upload:
    """A file with how its columns are to be read (field to column head; what is left out is guessed)."""

    kind: Kind
    filename: str
    content: bytes
    mapping: Mapping[str, str] = field(default_factory=dict)
    dry_run: bool = True
    apply: bool = True


@dataclass(frozen=True, slots=True)
class RowError:
    """What is wrong with one cell: the row as numbered in the file, its column, the value, and what to do."""

    row: int
    column: str
    value: str
    detail: str
    remedy: str

    def reason(self) -> Reason:
        """The same as a reason of a refusal."""
        return Reason(self.detail, f"row {self.row}, {self.column}", self.value, self.remedy)


@dataclass(frozen=True, slots=True)
class Imported:
    """What a file would change, or did: columns as read, lines by what became of them, and every error."""

    kind: Kind
    columns: tuple[str, ...]
    mapping: Mapping[str, str]
    unused: tuple[str, ...]
    rows: int
    created: int
    changed: int
    same: int
    errors: tuple[RowError, ...]
    notes: tuple[str, ...]
    written: bool


@dataclass(slots=True)
class _Work:
    created: int = 0
    changed: int = 0
    same: int = 0
    errors: list[RowError] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def import_programme(*, actor: Actor, upload: Upload) -> Imported:
    """Read the file and say row by row what it would do; write it all unless it is a dry run.

    With any error nothing is written: a dry run lists them, otherwise the file is refused (`import_refused`).
    """
    require(actor, Verb.EDIT_PROGRAMME)
    sheet = read_sheet(upload.filename, upload.content)
    mapping = mapping_for(sheet, upload.kind, upload.mapping)
    with transaction.atomic():
        work = _carry_out(actor, upload, sheet, mapping)
        is_kept = not upload.dry_run and not work.errors
        if is_kept:
            words = f"{upload.filename}: {work.created} new, {work.changed} changed, {work.same} the same"
            note(actor, "import_programme", "programme", upload.kind, words)
        else:
            transaction.set_rollback(True)
    if work.errors and not upload.dry_run:
        reasons = [error.reason() for error in work.errors[:MOST_ERRORS]]
        sentence = f"Nothing was brought in: {len(work.errors)} cells of {upload.filename} need another look."
        raise Invalid("import_refused", sentence, *reasons)
    return Imported(
        kind=upload.kind,
        columns=sheet.columns,
        mapping=mapping,
        unused=tuple(head for head in sheet.columns if head and head not in mapping.values()),
        rows=len(sheet.rows),
        created=work.created,
        changed=work.changed,
        same=work.same,
        errors=tuple(work.errors[:MOST_ERRORS]),
        notes=tuple(work.notes),
        written=is_kept,
    )


def mapping_for(sheet: Sheet, kind: Kind, given: Mapping[str, str]) -> dict[str, str]:
    """Field to column head: as given, otherwise by the usual names. Refuses a missing or unknown column."""
    heads = {head.casefold().replace("_", " "): head for head in sheet.columns if head}
    mapping: dict[str, str] = {}
    for name, usual in FIELDS[kind].items():
        wanted = given.get(name)
        if wanted:
            if wanted not in sheet.columns:
                raise wrong(
                    f"mapping.{name}", wanted, "is no column of the file", "choose one of its columns"
                )
            mapping[name] = wanted
        elif wanted is None:
            found = next((heads[one] for one in (name.replace("_", " "), *usual) if one in heads), None)
            if found is not None and found not in mapping.values():
                mapping[name] = found
    for name in NEEDED[kind]:
        if name not in mapping:
            raise wrong(f"mapping.{name}", "", "has no column", "say which column holds it")
    return mapping


def _carry_out(actor: Actor, upload: Upload, sheet: Sheet, mapping: Mapping[str, str]) -> _Work:
    work = _Work()
    act = _write_line if upload.kind is Kind.PROGRAMME else _write_last_done
    seen: dict[str, int] = {}
    for number, cells in sheet.rows:
        row = {name: cells[sheet.columns.index(head)] for name, head in mapping.items()}
        twice = _identity(upload.kind, row)
        if twice in seen:
            error = wrong(
                "code", row["code"], f"stands in row {seen[twice]} already", "keep one of the two rows"
            )
            work.errors += _errors(number, error, mapping, lambda path: path)
            continue
        seen[twice] = number
        act(actor, number, row, mapping, work)
    if upload.kind is Kind.PROGRAMME and upload.apply and not work.errors:
        _apply_all(actor, seen, work)
    return work


def _identity(kind: Kind, row: Row) -> str:
    names = ("code",) if kind is Kind.PROGRAMME else ("code", "registration", "part_number", "serial_number")
    return "|".join(row.get(name, "").casefold() for name in names)


def _apply_all(actor: Actor, codes: Iterable[str], work: _Work) -> None:
    rows = Requirement.objects.filter(operator_id=actor.operator_id, is_current=True, retired_on=None)
    for row in rows.order_by("code"):
        if row.code.casefold() in codes:
            applied = apply_requirement(actor=actor, code=row.code)
            for left in applied.left_out:
                work.notes.append(f"{row.code} not on {left.subject}: {left.reasons[0].sentence()}")


def _write_line(actor: Actor, number: int, row: Row, mapping: Mapping[str, str], work: _Work) -> None:
    column_of: Callable[[str], str] = str
    try:
        with transaction.atomic():
            wanted, limits = requirement_of_row(row)
            column_of = limits.column_of
            known = Requirement.objects.filter(
                operator_id=actor.operator_id, code=wanted.code, is_current=True
            ).first()
            if known is not None and _is_same(known, wanted):
                work.same += 1
                return
            write_requirement(actor=actor, wanted=wanted)
            work.changed += known is not None
            work.created += known is None
    except Refusal as refusal:
        work.errors += _errors(number, refusal, mapping, column_of)


def _is_same(known: Requirement, wanted: WrittenRequirement) -> bool:
    limits = limits_to_data(limits_from_data(dict(wanted.limits)))
    pairs = (
        (known.limits, limits),
        (known.title, wanted.title),
        (known.ata, wanted.ata),
        (known.source, wanted.source),
        (known.consequence, wanted.consequence),
        (known.aircraft_type.code if known.aircraft_type else "", wanted.aircraft_type),
        (known.component_kind.code if known.component_kind else "", wanted.component_kind),
        (known.procedure.code if known.procedure else "", wanted.procedure),
        (known.event_kind.code if known.event_kind else "", wanted.event_kind),
        (tuple(known.options_needed), wanted.options_needed),
        (tuple(known.options_barred), wanted.options_barred),
        (known.retired_on, None),
    )
    return all(left == right for left, right in pairs)


def _write_last_done(actor: Actor, number: int, row: Row, mapping: Mapping[str, str], work: _Work) -> None:
    try:
        with transaction.atomic():
            last_done = last_done_of_row(row)
            if last_done.day is None and not last_done.counters:
                raise wrong("done_on", "", "is missing", "say when it was done, by day or by counter")
            applied = apply_to(
                actor=actor, code=row["code"], subject=_subject(actor, row), last_done=last_done
            )
            work.changed += applied.version > 2
            work.created += applied.version <= 2
    except NotFound as refusal:
        error = wrong("code", row["code"], refusal.sentence, "check the code")
        work.errors += _errors(number, error, mapping, str)
    except Refusal as refusal:
        work.errors += _errors(number, refusal, mapping, str)


def _subject(actor: Actor, row: Row) -> Aircraft | Component:
    part, serial = row.get("part_number", ""), row.get("serial_number", "")
    if serial:
        found = Component.objects.filter(operator_id=actor.operator_id, serial_number=serial)
        component = (found.filter(part_number=part) if part else found).order_by("pk")[:2]
        if len(component) != 1:
            detail = "is no component here" if not component else "is the serial of several parts"
            raise wrong("serial_number", serial, detail, "check it, and give the part number too")
        return component[0]
    registration = row.get("registration", "")
    aircraft = Aircraft.objects.filter(
        operator_id=actor.operator_id, registration__iexact=registration
    ).first()
    if aircraft is None:
        raise wrong("registration", registration, "is no aircraft here", "check the registration")
    return aircraft


def _errors(
    number: int, refusal: Refusal, mapping: Mapping[str, str], column_of: Callable[[str], str]
) -> list[RowError]:
    reasons = refusal.reasons or (Reason(refusal.sentence),)
    return [
        RowError(number, _head(column_of(reason.field), mapping), reason.value, reason.detail, reason.remedy)
        for reason in reasons
    ]


def _head(name: str, mapping: Mapping[str, str]) -> str:
    """The column as the file names it: faults of a last-done name `last_done.day` or `last_done.hours`."""
    short = (
        name.removeprefix("last_done.").replace("day", "done_on") if name.startswith("last_done.") else name
    )
    return mapping.get(short, short)
