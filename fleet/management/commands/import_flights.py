"""Import a flight file from the command line, or say what importing it would do."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.common.actor import system_actor
from fleet.common.errors import Refusal
from fleet.flight_file.columns import FIELDS
from fleet.models import Operator
from fleet.services.flight_import import (
    BadRows,
    FlightFileInput,
    ImportReport,
    Newcomers,
    check_flight_file,
    import_flight_file,
)

MOST_SHOWN = 20


class Command(BaseCommand):
    """`manage.py import_flights FILE`: all of it, or nothing and why."""

    help = "Import flights from a CSV file with a heading. What falls due is worked out again by the clock."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What can be chosen."""
        parser.add_argument("file", type=Path)
        parser.add_argument("--operator", default="", help="code of the operator, where there are several")
        parser.add_argument("--dry-run", action="store_true", help="say what would happen; write nothing")
        parser.add_argument("--leave-out-bad-rows", action="store_true", help="import the others")
        parser.add_argument(
            "--create-aircraft",
            nargs=2,
            metavar=("TYPE", "BASE"),
            help="put unknown registrations on the register, with this type and base (codes)",
        )
        parser.add_argument(
            "--column",
            action="append",
            default=[],
            metavar="FIELD=HEADING",
            help=f"say which column holds a field ({', '.join(FIELDS)}), or zone=utc|base, numbers=minutes|hours",
        )

    def handle(self, *_: Any, **options: Any) -> None:
        """Read, import or check, and say what came of it."""
        path: Path = options["file"]
        if not path.is_file():
            raise CommandError(f"{path}: there is no such file; give the path of a CSV file")
        actor = system_actor(self._operator(options["operator"]).pk, "import_flights")
        act = check_flight_file if options["dry_run"] else import_flight_file
        newcomers = Newcomers(*options["create_aircraft"]) if options["create_aircraft"] else None
        with path.open("rb") as content:
            file = FlightFileInput(
                path.name, content, self._columns(options["column"]), options["leave_out_bad_rows"], newcomers
            )
            try:
                report = act(actor=actor, file=file)
            except BadRows as refusal:
                self._list_errors(refusal.report)
                raise CommandError(refusal.sentence) from refusal
            except Refusal as refusal:
                raise CommandError(refusal.sentence) from refusal
        self._say(report, options["dry_run"])

    def _operator(self, code: str) -> Operator:
        found = list(Operator.objects.filter(code=code) if code else Operator.objects.order_by("code")[:2])
        if len(found) == 1:
            return found[0]
        known = ", ".join(Operator.objects.order_by("code").values_list("code", flat=True)[:10]) or "none"
        raise CommandError(f"Say which operator with --operator CODE; there are: {known}.")

    def _columns(self, pairs: list[str]) -> dict[str, str]:
        wrong = next((pair for pair in pairs if "=" not in pair), None)
        if wrong is not None:
            raise CommandError(f"--column {wrong}: write FIELD=HEADING, for example duration=Air time")
        return dict(pair.split("=", 1) for pair in pairs)

    def _list_errors(self, report: ImportReport) -> None:
        for error in report.errors[:MOST_SHOWN]:
            self.stderr.write(
                f"row {error.row}, {error.column} “{error.value}”: {error.detail}; {error.remedy}"
            )
        if report.error_count > MOST_SHOWN:
            self.stderr.write(f"… and {report.error_count - MOST_SHOWN} more")

    def _say(self, report: ImportReport, is_dry: bool) -> None:
        self._list_errors(report)
        named = {field: heading for field, heading in report.columns.as_dict().items() if heading}
        self.stdout.write("Columns: " + ", ".join(f"{field} = {heading}" for field, heading in named.items()))
        done = "would be imported" if is_dry else "imported"
        self.stdout.write(
            f"{report.rows} rows: {report.new} flights {done}, {report.repeated} known already, "
            f"{report.bad} left out; {len(report.aircraft)} aircraft, {len(report.created)} of them new"
        )
