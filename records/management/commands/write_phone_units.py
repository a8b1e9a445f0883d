"""Write the units of the phone's judge from the server's own table."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from records.mobile.units import UNITS_FILE, units_script


class Command(BaseCommand):
    """Run it after changing a unit; a test fails until this was done."""

    help = "Write the phone's table of units from fleet/quantities.py."

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the file and say where."""
        UNITS_FILE.write_text(units_script(), encoding="utf-8")
        self.stdout.write(f"Wrote {UNITS_FILE}")
