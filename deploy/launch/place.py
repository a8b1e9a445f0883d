"""Where things lie: the project, its data folder, and what is inside."""

import os
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
DATA = Path(os.environ.get("VERGLAS_DATA_FOLDER") or ROOT / ".verglas")

VENV = ROOT / ".verglas" / "venv"
PYTHON = VENV / "bin" / "python"
LOGS = DATA / "logs"
DATABASE = DATA / "verglas.sqlite3"
DATABASE_IN_MAKING = DATA / "making.sqlite3"
LOGINS = DATA / "logins.txt"
LOCK = DATA / "run.lock"


def private_folder(folder: Path) -> Path:
    """The folder, made when missing, open to its own account alone."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    folder.chmod(0o700)
    return folder


def embedded_environment(**more: str) -> dict[str, str]:
    """The environment of everything that runs embedded: SQLite and files, whatever .env says."""
    return os.environ | {
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
        "VERGLAS_DATA_FOLDER": str(DATA),
        "VERGLAS_DATABASE_URL": "",
        "VERGLAS_REDIS_URL": "",
        "PYTHONUNBUFFERED": "1",
        **more,
    }
