"""What must hold before any test runs: each check is one command with one sentence."""

import os
import subprocess
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from .console import say
from .place import PYTHON, ROOT

# Only for `check --deploy`, which asks whether the production settings are tight; nothing is served.
PRODUCTION = {
    "DJANGO_SETTINGS_MODULE": "deploy.settings.production",
    "VERGLAS_SECRET_KEY": "check-only-" + "0123456789abcdefghijklmnopqrstuvwxyz" * 2,
    "VERGLAS_ALLOWED_HOSTS": "verglas.example",
    "VERGLAS_REDIS_URL": "redis://127.0.0.1:1/0",
}


LONGEST_COMPLAINT = 120


@dataclass(frozen=True, slots=True)
class Check:
    """One command that must end with status 0."""

    sentence: str
    command: tuple[str, ...]
    environment: Mapping[str, str] = field(default_factory=dict)


def all_checks(scratch: str) -> list[Check]:
    module = (str(PYTHON), "-m")
    manage = (str(PYTHON), "manage.py")
    sqlite = {"DJANGO_SETTINGS_MODULE": "deploy.settings.test"}
    postgres = {"DJANGO_SETTINGS_MODULE": "deploy.settings.test_postgres"}
    production = PRODUCTION | {"VERGLAS_DATA_FOLDER": scratch}
    schema = str(Path(scratch) / "schema.yaml")
    imports = str(PYTHON.parent / "lint-imports")
    migrations = (*manage, "makemigrations", "--check", "--dry-run")
    return [
        Check("The code is clean", (*module, "ruff", "check", ".")),
        Check("The code is formatted", (*module, "ruff", "format", "--check", ".")),
        Check("Imports point one way", (str(PYTHON), imports)),
        Check("Types agree", (*module, "mypy")),
        Check("Migrations match the models (SQLite)", migrations, sqlite),
        Check("Migrations match the models (PostgreSQL)", migrations, postgres),
        Check(
            "Production settings are tight",
            (*manage, "check", "--deploy", "--fail-level", "WARNING"),
            production,
        ),
        Check(
            "The API description is valid",
            (*manage, "spectacular", "--validate", "--fail-on-warn", "--file", schema),
            sqlite,
        ),
    ]


def failed_checks(environment: Mapping[str, str]) -> list[str]:
    """Runs every check, shows what a failing one said, and gives the sentences of those that failed."""
    with tempfile.TemporaryDirectory(prefix="verglas-checks-") as scratch:
        return [check.sentence for check in all_checks(scratch) if not holds(check, environment)]


def holds(check: Check, environment: Mapping[str, str]) -> bool:
    begun = time.monotonic()
    done = subprocess.run(
        check.command,
        env={**os.environ, **environment, **check.environment},
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    seconds = time.monotonic() - begun
    say(f"{'holds ' if done.returncode == 0 else 'FAILS '} {seconds:5.1f} s  {check.sentence}")
    if done.returncode != 0:
        say(f"        {' '.join(check.command)}\n{shortened(done.stdout)}\n")
    return done.returncode == 0


def shortened(text: str) -> str:
    """The first lines of what a failing check said.

    >>> shortened("one fault\\n")
    'one fault'
    """
    lines = text.rstrip().splitlines()
    left_out = len(lines) - LONGEST_COMPLAINT
    return "\n".join(lines[:LONGEST_COMPLAINT] + ([f"… and {left_out} lines more"] if left_out > 0 else []))
