"""`manage.py load_demo`: the invented operator Skerry Air Links, alive on the day it is loaded."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import Tags
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.common.errors import Refusal
from records.management.demo.house import Login
from records.management.demo.load import load, must_be_fresh


class Command(BaseCommand):
    """Loads the demonstration fleet and prints its random passwords."""

    help = "Loads the demonstration fleet of an invented operator, with random passwords."
    # The other checks read every address and page: a third of the time again, and nothing about what is loaded.
    requires_system_checks = (Tags.database,)

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--fresh-check",
            action="store_true",
            help="load nothing; only say whether the demonstration can be loaded here",
        )

    def handle(self, *_arguments: Any, **options: Any) -> None:
        try:
            self._handle(fresh_check=options["fresh_check"])
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal

    def _handle(self, *, fresh_check: bool) -> None:
        self.started = time.monotonic()
        if fresh_check:
            must_be_fresh()
            self.stdout.write("The demonstration can be loaded here.")
            return
        logins = load(self._say)
        words = words_of(logins)
        keep_private(settings.DATA_FOLDER / "logins.txt", words)
        self.stdout.write(words)

    def _say(self, words: str) -> None:
        self.stdout.write(f"{time.monotonic() - self.started:6.1f} s  {words}")


def words_of(logins: list[Login]) -> str:
    """The logins as a table in plain text."""
    lines = [f"  {row.username:8} {row.password:18} {row.name}, {row.roles}, {row.base}" for row in logins]
    return "\n".join(["Sign in with one of these names and passwords:", *lines, ""])


def keep_private(place: Path, words: str) -> None:
    """Write a file only its own account may read, also where one stood before."""
    place.unlink(missing_ok=True)
    descriptor = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as file:
        file.write(words)
