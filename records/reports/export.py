"""The complete records of one aircraft in one archive, for an inspector or a buyer (14 CFR 91.417(c), 91.419).

Plain files that need no product to be read: text, CSV, JSON, PDF; a manifest with the SHA-256 of each.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import PurePath
from tempfile import SpooledTemporaryFile
from typing import Any

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Refusal
from fleet.common.pdf.render import render
from fleet.common.wording import moment as moment_words
from fleet.models import Aircraft
from records.models import Photo, SignedRecord
from records.reports.export_tables import TABLES, as_csv
from records.reports.release import record_document
from records.reports.status import status_document
from records.reports.status_data import status_data
from records.selectors.status_items import status_items
from records.selectors.verification import verify_aircraft
from scheduling.selectors.status import status_of

IN_MEMORY = 16 * 1024 * 1024
README = """Complete records of aircraft {registration}, serial number {serial}
Handed out by {operator} on {stands}.

status.pdf, status.json  the six status items of 14 CFR 91.417(a)(2)
records/                 every sealed record: its exact text (.json) and a printable page (.pdf)
records.csv              the list of records
configuration.csv        what is fitted now, with its times
installations.csv        everything that was ever fitted
meters.csv, flights.csv  what was read and flown
events.csv, tasks.csv    what happened, and the work it led to
photos/                  photographs named in the records, by their SHA-256
manifest.json            every file with its size and SHA-256

To check a record: the SHA-256 of its .json file is its digest, and stands as "previous" in the next record.
{verification}
{custody}
"""
WITH_BUYER = "Status items and all maintenance records go with the aircraft (14 CFR 91.419(a), (b))."
WITH_SELLER = (
    "The buyer lets the seller keep physical custody of the maintenance records; the buyer still answers for "
    "making them available (14 CFR 91.419(b))."
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """How the archive is to be made: where records can be read, and who keeps the papers after a sale."""

    address: str = ""
    custody_with_seller: bool = False


@dataclass(slots=True)
class Archive:
    """The finished archive: its file (at its beginning), name, number of records, SHA-256 of its manifest."""

    name: str
    file: SpooledTemporaryFile[bytes]
    records: int = 0
    digest: str = ""
    entries: list[dict[str, Any]] = field(default_factory=list)


PLAIN = Wanted()


def aircraft_archive(actor: Actor, aircraft: Aircraft, wanted: Wanted = PLAIN) -> Archive:
    """Everything kept of one aircraft as a ZIP file."""
    require(actor, Verb.EXPORT)
    moment = now()
    name = f"{aircraft.registration}-records-{moment:%Y%m%d}.zip"
    archive = Archive(name, SpooledTemporaryFile(max_size=IN_MEMORY))  # noqa: SIM115 handed on open
    with zipfile.ZipFile(archive.file, "w", zipfile.ZIP_DEFLATED) as packed:
        for path, content in _files(actor, aircraft, wanted, moment):
            packed.writestr(_entry(path, moment), content)
            digest = hashlib.sha256(content).hexdigest()
            archive.entries.append({"path": path, "bytes": len(content), "sha256": digest})
        manifest = _manifest(aircraft, archive.entries, moment)
        packed.writestr(_entry("manifest.json", moment), manifest)
    archive.records = sum(1 for entry in archive.entries if _is_record(entry["path"]))
    archive.digest = hashlib.sha256(manifest).hexdigest()
    archive.file.seek(0)
    return archive


def _is_record(path: str) -> bool:
    return path.startswith("records/") and path.endswith(".json")


def _entry(path: str, moment: datetime) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(path, moment.timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    return entry


def _manifest(aircraft: Aircraft, entries: list[dict[str, Any]], moment: datetime) -> bytes:
    manifest = {
        "aircraft": aircraft.registration,
        "serial_number": aircraft.serial_number,
        "operator": aircraft.operator.name,
        "made_at": moment.isoformat(),
        "files": entries,
    }
    return json.dumps(manifest, indent=1, ensure_ascii=False).encode()


def _files(actor: Actor, aircraft: Aircraft, wanted: Wanted, moment: datetime) -> Iterator[tuple[str, bytes]]:
    items = status_items(actor, aircraft)
    yield "README.txt", _readme(aircraft, wanted, moment).encode()
    yield "status.json", json.dumps(status_data(items), indent=1, ensure_ascii=False).encode()
    status = status_of([aircraft.pk])[aircraft.pk]
    yield "status.pdf", render(status_document(items, status, aircraft.operator.name, moment))
    for name, table in TABLES.items():
        yield name, as_csv(table(aircraft)).encode()
    yield from _records(aircraft, wanted)
    yield from _photos(aircraft)


def _readme(aircraft: Aircraft, wanted: Wanted, moment: datetime) -> str:
    found = verify_aircraft(aircraft)
    return README.format(
        registration=aircraft.registration,
        serial=aircraft.serial_number,
        operator=aircraft.operator.name,
        stands=moment_words(moment),
        verification=f"When this was made the records were checked: {found.words}."
        + "".join(f"\n  {flaw.subject}: {flaw.words}" for flaw in found.flaws),
        custody=WITH_SELLER if wanted.custody_with_seller else WITH_BUYER,
    )


def _records(aircraft: Aircraft, wanted: Wanted) -> Iterator[tuple[str, bytes]]:
    rows = SignedRecord.objects.filter(aircraft=aircraft).select_related("operator", "amends")
    for record in rows.prefetch_related("amendments").order_by("sequence"):
        yield f"records/{record.number}.json", record.canonical.encode()
        address = f"{wanted.address}/records/{record.number}/" if wanted.address else ""
        try:
            yield f"records/{record.number}.pdf", render(record_document(record, address))
        except Refusal as broken:
            # An archive with one broken record is still wanted: the rest of it, and word of what is broken.
            yield f"records/{record.number}.broken.txt", broken.sentence.encode()


def _photos(aircraft: Aircraft) -> Iterator[tuple[str, bytes]]:
    seen: set[str] = set()
    for photo in Photo.objects.filter(run__aircraft=aircraft).order_by("pk"):
        kept = str(photo.file.name)
        path = f"photos/{photo.sha256}{PurePath(kept).suffix}"
        if path not in seen and photo.file.storage.exists(kept):
            seen.add(path)
            with photo.file.open("rb") as file:
                yield path, file.read()
