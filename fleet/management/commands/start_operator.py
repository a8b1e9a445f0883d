"""`manage.py start_operator skerry "Skerry Air" --zone Europe/Oslo --base Norrvik --administrator "Linnea Harrow"`."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.common.errors import Refusal
from fleet.services.founding import Founding, found_operator


class Command(BaseCommand):
    """Make the first operator of an empty installation."""

    help = "Make an operator with its first base and administrator; prints a one-time password."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What must be known."""
        parser.add_argument("code", help="short, without spaces")
        parser.add_argument("name")
        parser.add_argument("--zone", required=True, help="such as Europe/Oslo")
        parser.add_argument("--base", required=True, help="name of the first base")
        parser.add_argument("--administrator", required=True, help="first and last name")

    def handle(self, *_: Any, **words: Any) -> None:
        """Make it and say how to sign in."""
        names = ("code", "name", "zone", "base", "administrator")
        try:
            person, password = found_operator(Founding(**{name: words[name] for name in names}))
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        self.stdout.write(f"Sign in as {person.username} with the one-time password {password}")
