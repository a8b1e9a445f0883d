"""Logging: one line an event to standard error; whoever runs the process decides where it goes."""

from typing import Any

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"},
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "INFO"},
    "loggers": {
        "axes": {"level": "WARNING"},
        "fontTools": {"level": "WARNING"},
    },
}
