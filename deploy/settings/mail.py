"""Outgoing mail, named by VERGLAS_EMAIL_URL; without it, mail is written to files in the data folder."""

from deploy.settings.environment import DATA_FOLDER, env

EMAIL_URL: str = env.str("VERGLAS_EMAIL_URL", default="")
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL: str = env.str("VERGLAS_EMAIL_FROM", default="verglas@localhost")
SERVER_EMAIL = DEFAULT_FROM_EMAIL

if EMAIL_URL:
    globals().update(env.email_url_config(EMAIL_URL))
else:
    EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    EMAIL_FILE_PATH = str(DATA_FOLDER / "mail")
