"""The queue. Embedded: files in the data folder. Scaled: Redis named by VERGLAS_REDIS_URL."""

from typing import Any

from deploy.settings.environment import env, private_folder

REDIS_URL: str = env.str("VERGLAS_REDIS_URL", default="")


def broker() -> tuple[str, dict[str, Any]]:
    """Address and transport options of the queue."""
    if REDIS_URL:
        return REDIS_URL, {"visibility_timeout": 3600}
    letters = str(private_folder("queue"))
    return "filesystem://", {
        "data_folder_in": letters,
        "data_folder_out": letters,
        "control_folder": str(private_folder("queue-control")),
        "store_processed": False,
    }


CELERY_BROKER_URL, CELERY_BROKER_TRANSPORT_OPTIONS = broker()
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_SERIALIZER = "json"
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 15 * 60
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULER = "deploy.beat:SoleScheduler"

CACHES: dict[str, dict[str, Any]] = {
    "default": (
        {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
        if REDIS_URL
        else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
    ),
}

PLANNER_SECONDS: float = env.float("VERGLAS_PLANNER_SECONDS", default=20.0)
