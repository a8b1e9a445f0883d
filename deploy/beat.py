"""One beat at a time: a second, started by mistake or as a spare, waits instead of doubling every message."""

import fcntl
from pathlib import Path
from typing import IO, Any, Protocol

import redis
from celery.beat import PersistentScheduler
from django.conf import settings
from redis.exceptions import LockError

SECONDS_BETWEEN_LOOKS = 30
SECONDS_OF_LEASE = 3 * SECONDS_BETWEEN_LOOKS


class Lease(Protocol):
    def is_held(self) -> bool:
        """Whether this process has, or now gets, the sole right to send."""


class FileLease:
    """One machine: an operating system lock, which ends with the process that holds it."""

    def __init__(self, place: Path) -> None:
        self.file: IO[str] = place.open("a")

    def is_held(self) -> bool:
        try:
            fcntl.flock(self.file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


class RedisLease:
    """Several machines: a key in Redis that runs out unless it is renewed at every look."""

    def __init__(self, url: str, seconds: float = SECONDS_OF_LEASE) -> None:
        self.lock = redis.Redis.from_url(url).lock("verglas-beat", timeout=seconds, thread_local=False)

    def is_held(self) -> bool:
        try:
            return bool(self.lock.reacquire())
        except LockError:
            return bool(self.lock.acquire(blocking=False))


def lease() -> Lease:
    """The lease that fits this installation's queue."""
    if settings.REDIS_URL:
        return RedisLease(settings.REDIS_URL)
    return FileLease(Path(settings.DATA_FOLDER) / "beat.lock")


class SoleScheduler(PersistentScheduler):
    """Celery's own scheduler, sending only while it holds the lease."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        self.lease = lease()
        super().__init__(*arguments, **options)

    def tick(self, *arguments: Any, **options: Any) -> float:
        """Seconds until the next look."""
        if not self.lease.is_held():
            return SECONDS_BETWEEN_LOOKS
        return min(float(super().tick(*arguments, **options)), SECONDS_BETWEEN_LOOKS)
