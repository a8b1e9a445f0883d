"""Templates, static files, uploads, language and time."""

from pathlib import Path
from typing import Any

from deploy.settings.environment import DATA_FOLDER, ROOT, env

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [ROOT / "deploy" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "deploy.navigation.navigation",
                "deploy.navigation.navigation",
            ],
        },
    },
]

STATIC_URL = "/static/"
STATIC_ROOT = Path(env.str("VERGLAS_STATIC_FOLDER", default="") or DATA_FOLDER / "static")
STATICFILES_DIRS = [ROOT / "deploy" / "static"]
MEDIA_URL = "/media/"
MEDIA_ROOT = DATA_FOLDER / "media"
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
FILE_UPLOAD_PERMISSIONS = 0o600
DATA_UPLOAD_MAX_MEMORY_SIZE = 10 * 1024 * 1024

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"
