"""`deploy/test`: install what the tests need, check the code, run the tests on both databases, clean up."""

import argparse
import os
import signal
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path

from .checks import failed_checks
from .console import Stop, complain, say
from .environment import prepare_environment
from .packages import prepare_packages
from .place import DATA, PYTHON, ROOT, private_folder
from .throwaway import throwaway_servers

NO_TESTS_COLLECTED = 5

POSTGRES = ["--ds=deploy.settings.test_postgres"]
SQLITE = ["--ds=deploy.settings.test"]
TOGETHER = ["-n", "2", "-m", "not serial"]
ALONE = ["-p", "no:randomly", "-p", "no:xdist", "-s", "-m", "serial"]
ROUNDS = {
    "On PostgreSQL: the tests that touch the database": [*POSTGRES, *TOGETHER],
    "On PostgreSQL, one at a time: those that measure time or kill workers": [*POSTGRES, *ALONE],
    "On SQLite, one at a time: those that measure time or kill workers": [*SQLITE, *ALONE],
    "On SQLite: all the others": [*SQLITE, *TOGETHER],
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Exit status of `deploy/test`."""
    wanted = parsed(arguments)
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.default_int_handler)
    try:
        private_folder(DATA)
        prepare_environment("test.lock")
        prepare_packages()
        with throwaway_servers() as addresses:
            return everything(addresses, wanted)
    except Stop as stop:
        complain(stop.sentence)
        return 1
    except KeyboardInterrupt:
        complain("Stopped.")
        return 130


def parsed(arguments: Sequence[str] | None) -> list[str]:
    parser = argparse.ArgumentParser(
        prog="deploy/test",
        description="Checks formatting, types, import rules, migrations and the API description, then runs "
        "the tests on PostgreSQL and on SQLite. Whatever it started is stopped at the end.",
        epilog="Anything else on the command line goes to pytest: deploy/test tests/fleet -k meter",
    )
    return parser.parse_known_args(arguments)[1]


def everything(addresses: Mapping[str, str], wanted: Sequence[str]) -> int:
    """Runs the checks and every round; the last line printed is the last round's own."""
    failed = failed_checks(addresses)
    status = 0
    for position, (title, options) in enumerate(ROUNDS.items(), 1):
        is_last = position == len(ROUNDS)
        if is_last and failed:
            say("\nFailed before the last round: " + "; ".join(failed))
        say(f"\n{title}")
        status = pytest([*options, *wanted], addresses)
        if status != 0 and not (status == NO_TESTS_COLLECTED and not is_last):
            failed.append(title)
    return status or (1 if failed else 0)


def pytest(options: Sequence[str], addresses: Mapping[str, str]) -> int:
    command: list[str | Path] = [PYTHON, "-m", "pytest", "--no-header", *options]
    return subprocess.run(command, env={**os.environ, **addresses}, cwd=ROOT, check=False).returncode
