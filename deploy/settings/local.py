"""One machine, one command: SQLite, files as queue, plain HTTP. VERGLAS_DEBUG=1 while developing."""

import os
import secrets

from deploy.settings.base import *
from deploy.settings.environment import DATA_FOLDER, env, names


def kept_secret() -> str:
    """This installation's own key, made once and readable by its account alone."""
    DATA_FOLDER.mkdir(mode=0o700, parents=True, exist_ok=True)
    place = DATA_FOLDER / "secret.key"
    try:
        descriptor = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return place.read_text()
    with os.fdopen(descriptor, "w") as file:
        file.write(secrets.token_urlsafe(50))
    return place.read_text()


DEBUG = env.bool("VERGLAS_DEBUG", default=False)
SECRET_KEY: str = env.str("VERGLAS_SECRET_KEY", default="") or kept_secret()
ALLOWED_HOSTS = [
    "localhost",
    "127.0.0.1",
    "[::1]",
    *names("VERGLAS_ALLOWED_HOSTS"),
    *names("VERGLAS_OWN_NAMES"),
]
CSRF_TRUSTED_ORIGINS = names("VERGLAS_TRUSTED_ORIGINS")

if DEBUG:
    STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
