"""The project's own Python environment: installed from a lock file, left alone while the lock is the same."""

import hashlib
import importlib.util
import shutil
import subprocess
import sys
from pathlib import Path

from .console import Stop, step
from .place import LOGS, PYTHON, ROOT, VENV, private_folder

REQUIREMENTS = ROOT / "deploy" / "requirements"


def prepare_environment(lock_name: str) -> None:
    """Leaves .verglas/venv holding what `deploy/requirements/<lock_name>` lists.

    Raises `Stop` when this machine cannot make environments or the packages cannot be had.
    """
    lock = REQUIREMENTS / lock_name
    stamp = VENV / f"{lock_name}.installed"
    wanted = fingerprint(lock)
    if is_usable() and stamp.is_file() and stamp.read_text() == wanted:
        return
    if not is_usable():
        with step("Making the Python environment"):
            make_environment()
    with step(f"Installing the packages of {lock_name} (once, a minute or two)"):
        install(lock)
    stamp.write_text(wanted)


def fingerprint(lock: Path) -> str:
    """Digest of the lock file and of the Python that would read it."""
    version = ".".join(map(str, sys.version_info[:3]))
    return f"{version} {hashlib.sha256(lock.read_bytes()).hexdigest()}"


def is_usable() -> bool:
    """Whether the environment's Python starts, has pip, and is of the version that runs this."""
    if not PYTHON.exists():
        return False
    question = "import pip, sys; print(*sys.version_info[:2])"
    answer = subprocess.run([PYTHON, "-c", question], capture_output=True, text=True, check=False)
    return answer.stdout.split() == [str(part) for part in sys.version_info[:2]]


def make_environment() -> None:
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        raise Stop(
            "This Python cannot make virtual environments. "
            "Install python3-venv (Debian: apt-get install python3-venv) and start again."
        )
    shutil.rmtree(VENV, ignore_errors=True)
    private_folder(VENV.parent)
    made = subprocess.run([sys.executable, "-m", "venv", VENV], capture_output=True, text=True, check=False)
    if made.returncode != 0:
        raise Stop(f"The Python environment could not be made: {(made.stderr or made.stdout).strip()}")


def install(lock: Path) -> None:
    log = private_folder(LOGS) / "install.log"
    command: list[str | Path] = [PYTHON, "-m", "pip", "install", "--disable-pip-version-check", "--no-input"]
    command += ["--require-hashes", "-r", lock]
    with log.open("w") as file:
        done = subprocess.run(command, stdout=file, stderr=subprocess.STDOUT, cwd=ROOT, check=False)
    if done.returncode != 0:
        tail = "\n".join(log.read_text(errors="replace").splitlines()[-5:])
        raise Stop(f"The packages could not be installed. The whole story is in {log}; its end:\n{tail}")
