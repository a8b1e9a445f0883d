"""Check every sealed record: chains, signatures, photographs and the proofs that rest on them."""

from __future__ import annotations

import sys
from argparse import ArgumentParser

from django.core.management.base import BaseCommand

from fleet.common.actor import system_actor
from fleet.models import Operator
from records.services.verification import verify_records


class Command(BaseCommand):
    """Prints one line per aircraft and one per flaw; exit code 1 where anything is wrong."""

    help = "Check every sealed record and say in words what is broken (exit code 1)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Which operator, where there are several."""
        parser.add_argument("--operator", default="", help="code of one operator; all by default")

    def handle(self, *args: str, **options: str) -> None:
        """Check, print, and exit with what came of it."""
        operators = Operator.objects.order_by("code")
        if options["operator"]:
            operators = operators.filter(code=options["operator"])
        flaws = 0
        for operator in operators:
            for found in verify_records(actor=system_actor(operator.pk, "verify_records")):
                self.stdout.write(found.words)
                for flaw in found.flaws:
                    self.stdout.write(f"  {flaw.subject}: {flaw.words}")
                flaws += len(found.flaws)
        self.stdout.write(f"{flaws} things wrong." if flaws else "Everything is whole.")
        if flaws:
            sys.exit(1)
