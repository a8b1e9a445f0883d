"""Tests on a throw-away SQLite file: quick passwords, jobs run on the spot, the rest as it is in use."""

import os
import tempfile
from pathlib import Path

# Held by name so that the folder goes when the process ends.
_scratch = tempfile.TemporaryDirectory(prefix="verglas-test-", ignore_cleanup_errors=True)
SCRATCH = Path(_scratch.name)

# A developer's .env must not reach the tests, nor the tests a developer's data.
os.environ["VERGLAS_DATA_FOLDER"] = str(SCRATCH)
for variable in ("VERGLAS_DATABASE_URL", "VERGLAS_REDIS_URL", "VERGLAS_EMAIL_URL"):
    os.environ[variable] = ""

from deploy.settings.base import *
from deploy.settings.database import SQLITE_OPTIONS, database

SECRET_KEY = "only-for-tests"
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]

# A file, not memory: threads and a killed worker then meet the same locks as in use.
DATABASES = {
    "default": database(f"sqlite:///{SCRATCH / 'verglas.sqlite3'}")
    | {
        "OPTIONS": SQLITE_OPTIONS
        | {"init_command": SQLITE_OPTIONS["init_command"].replace("synchronous=NORMAL", "synchronous=OFF")},
        "TEST": {"NAME": str(SCRATCH / "test.sqlite3")},
    },
}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
STATIC_ROOT.mkdir(exist_ok=True)
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
CELERY_TASK_ALWAYS_EAGER = True
CELERY_TASK_EAGER_PROPAGATES = True
LOGGING["root"]["level"] = "WARNING"
