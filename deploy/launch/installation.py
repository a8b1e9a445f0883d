"""The data of this installation: made whole or not at all, kept on every later start."""

import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from .console import Stop, step
from .place import DATA, DATABASE, DATABASE_IN_MAKING, LOGINS, PYTHON, ROOT, embedded_environment


def prepare_data() -> None:
    """Migrates the database; a new one also gets the demonstration fleet."""
    if DATABASE.exists():
        with step("Bringing the database up to date"):
            manage("migrate", "--noinput", "-v0")
    else:
        make_database()
    with step("Collecting the static files"):
        manage("collectstatic", "--noinput", "-v0")


def make_database() -> None:
    """Builds the database beside its place and moves it there when complete, so none is ever half made."""
    remove_database(DATABASE_IN_MAKING)
    building = {"VERGLAS_DATABASE_URL": f"sqlite:///{DATABASE_IN_MAKING}"}
    with step("Making the database"):
        manage("migrate", "--noinput", "-v0", **building)
    with step("Loading the demonstration fleet"):
        manage("load_demo", **building)
    with closing(sqlite3.connect(DATABASE_IN_MAKING)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    DATABASE_IN_MAKING.replace(DATABASE)
    remove_database(DATABASE_IN_MAKING)


def remove_database(database: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        database.with_name(database.name + ending).unlink(missing_ok=True)


def remove_data() -> None:
    """Takes away everything entered here; the Python environment and the logs stay."""
    remove_database(DATABASE)
    remove_database(DATABASE_IN_MAKING)
    LOGINS.unlink(missing_ok=True)
    for name in ("media", "mail", "queue", "queue-control", "static"):
        shutil.rmtree(DATA / name, ignore_errors=True)
    for schedule in DATA.glob("beat-schedule*"):
        schedule.unlink()


def manage(*arguments: str, **environment: str) -> None:
    """One command of manage.py; raises `Stop` with what it said when it fails."""
    done = subprocess.run(
        [PYTHON, ROOT / "manage.py", *arguments],
        env=embedded_environment(**environment),
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        tail = "\n".join((done.stderr or done.stdout).strip().splitlines()[-12:])
        raise Stop(f"“manage.py {arguments[0]}” failed:\n{tail}")
