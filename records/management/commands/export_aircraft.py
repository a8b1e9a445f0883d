"""Hand out the complete records of one aircraft as a ZIP file."""

from __future__ import annotations

import shutil
from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from fleet.common.actor import system_actor
from fleet.models import Aircraft
from records.reports.export import Wanted, aircraft_archive
from records.services.exports import note_export


class Command(BaseCommand):
    """Writes <registration>-records-<day>.zip into a folder."""

    help = "Write the complete records of one aircraft into a ZIP file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Which aircraft, where to, and for whom."""
        parser.add_argument("registration")
        parser.add_argument("--operator", default="", help="code of the operator, where several have it")
        parser.add_argument(
            "--folder", default=".", help="where the file goes; the present folder by default"
        )
        parser.add_argument("--address", default="", help="address of this installation, for codes on paper")
        parser.add_argument(
            "--custody-with-seller", action="store_true", help="after a sale the seller keeps the papers"
        )

    def handle(self, *args: str, **options: str | bool) -> None:
        """Make the archive, note that it was handed out, say where it lies."""
        aircraft = self._aircraft(str(options["registration"]), str(options["operator"]))
        folder = Path(str(options["folder"]))
        if not folder.is_dir():
            raise CommandError(f"There is no folder {folder}.")
        actor = system_actor(aircraft.operator_id, "export_aircraft")
        wanted = Wanted(str(options["address"]).rstrip("/"), bool(options["custody_with_seller"]))
        archive = aircraft_archive(actor, aircraft, wanted)
        place = folder / archive.name
        with place.open("wb") as target:
            shutil.copyfileobj(archive.file, target)
        note_export(actor=actor, aircraft=aircraft, records=archive.records, digest=archive.digest)
        self.stdout.write(f"{place}: {archive.records} records, manifest {archive.digest}")

    def _aircraft(self, registration: str, operator: str) -> Aircraft:
        rows = Aircraft.objects.filter(registration__iexact=registration)
        rows = rows.filter(operator__code=operator) if operator else rows
        found = list(rows.select_related("operator", "base", "aircraft_type"))
        if len(found) != 1:
            words = "is no aircraft here" if not found else "belongs to several operators: say which"
            raise CommandError(f"{registration} {words}.")
        return found[0]
