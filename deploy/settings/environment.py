"""Where this installation keeps its things, and what the environment (or .env beside manage.py) says."""

from pathlib import Path

import environ

ROOT = Path(__file__).resolve().parent.parent.parent

env = environ.Env()
env.read_env(ROOT / ".env")

DATA_FOLDER = Path(env.str("VERGLAS_DATA_FOLDER", default=str(ROOT / ".verglas")))


def private_folder(name: str) -> Path:
    """A folder of this installation that only its own account may open, made when missing."""
    folder = DATA_FOLDER / name
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def names(variable: str) -> list[str]:
    """A comma-separated variable as a list without blanks.

    >>> names("VERGLAS_NOT_SET")
    []
    """
    return [part.strip() for part in env.str(variable, default="").split(",") if part.strip()]
