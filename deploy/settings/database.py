"""Embedded: SQLite in the data folder. Scaled: PostgreSQL named by VERGLAS_DATABASE_URL."""

from typing import Any

from deploy.settings.environment import DATA_FOLDER, env

# IMMEDIATE takes the write lock at the start, so that two writers wait for each other instead of failing.
SQLITE_OPTIONS: dict[str, Any] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 10,
    "init_command": (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=NORMAL;PRAGMA busy_timeout=10000;PRAGMA foreign_keys=ON;"
    ),
}


def database(url: str) -> dict[str, Any]:
    """The Django entry for one database address."""
    entry: dict[str, Any] = dict(env.db_url_config(url))
    if entry["ENGINE"] == "django.db.backends.sqlite3":
        entry["OPTIONS"] = SQLITE_OPTIONS
    else:
        entry |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
    return entry


DATABASES = {
    "default": database(
        env.str("VERGLAS_DATABASE_URL", default="") or f"sqlite:///{DATA_FOLDER / 'verglas.sqlite3'}",
    ),
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
