"""Programs of the operating system that the tests use."""

import os
import shutil
import subprocess
from pathlib import Path

from .console import Stop, step
from .place import LOGS, private_folder

PROGRAMS = {
    "redis-server": "redis-server",
    "redis-cli": "redis-tools",
    "postgres": "postgresql",
    "initdb": "postgresql",
    "pg_isready": "postgresql-client",
    "chromium": "chromium",
    "pdftoppm": "poppler-utils",
}
DEBIAN_POSTGRES = Path("/usr/lib/postgresql")


def located(program: str) -> Path | None:
    """Where a program lies; Debian keeps PostgreSQL's own ones off the search path."""
    on_path = shutil.which(program)
    if on_path:
        return Path(on_path)
    versions = sorted(DEBIAN_POSTGRES.glob(f"*/bin/{program}"), key=lambda path: int(path.parts[-3]))
    return versions[-1] if versions else None


def found(program: str) -> Path:
    path = located(program)
    if path is None:
        raise Stop(f"“{program}” is missing; install Debian's package {PROGRAMS[program]} and start again.")
    return path


def prepare_packages() -> None:
    """Installs what is missing with apt-get, as root or through sudo; otherwise says what to install."""
    missing = sorted({package for program, package in PROGRAMS.items() if located(program) is None})
    if not missing:
        return
    as_root = [] if os.geteuid() == 0 else ["sudo", "-n"]
    sentence = f"The tests need these packages: apt-get install {' '.join(missing)}"
    if shutil.which("apt-get") is None or (as_root and not may_sudo()):
        raise Stop(sentence)
    log = private_folder(LOGS) / "packages.log"
    with step(f"Installing {', '.join(missing)}"), log.open("w") as file:
        # RUNLEVEL=1 keeps the packages from starting servers of their own.
        quiet = [*as_root, "env", "DEBIAN_FRONTEND=noninteractive", "RUNLEVEL=1", "apt-get", "-y"]
        for command in (["update"], ["install", "--no-install-recommends", *missing]):
            done = subprocess.run([*quiet, *command], stdout=file, stderr=subprocess.STDOUT, check=False)
    if done.returncode != 0:
        raise Stop(f"{sentence} – trying it failed; the whole story is in {log}")


def may_sudo() -> bool:
    """Whether sudo is there and asks no password."""
    if shutil.which("sudo") is None:
        return False
    return subprocess.run(["sudo", "-n", "true"], capture_output=True, check=False).returncode == 0
