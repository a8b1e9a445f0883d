"""Tests on SQLite in memory: quick passwords, jobs run on the spot, everything else as it is in use."""

import tempfile
from pathlib import Path

from deploy.settings.base import *
from deploy.settings.database import database

SCRATCH = Path(tempfile.mkdtemp(prefix="verglas-test-"))

SECRET_KEY = "only-for-tests"
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
DATABASES = {"default": database("sqlite://:memory:")}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
MEDIA_ROOT = SCRATCH / "media"
STATIC_ROOT = SCRATCH / "static"
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
CELERY_TASK_ALWAYS_EAGER = True
CELERY_TASK_EAGER_PROPAGATES = True
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
LOGGING["root"]["level"] = "WARNING"
