"""Keeps services running until somebody says stop."""

import signal
import time
from collections.abc import Callable, Sequence
from types import FrameType

from .console import Stop, complain, say
from .service import Service, stop_all

TOO_MANY = 5
WITHIN_SECONDS = 60


class Supervisor:
    """Starts services, restarts one that ends by itself, and stops all of them on Ctrl-C or SIGTERM."""

    def __init__(self, services: Sequence[Service]) -> None:
        self.services = services
        self.is_stopping = False

    def run(self, when_started: Callable[[], None]) -> None:
        """Returns after a stop was asked for; raises `Stop` when a service keeps falling over."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, self.note_stop)
        try:
            for service in self.services:
                service.start()
            when_started()
            while not self.is_stopping:
                time.sleep(0.2)
                self.restart_ended()
        finally:
            say("\nStopping …")
            stop_all(self.services)

    def note_stop(self, _number: int, _frame: FrameType | None) -> None:
        self.is_stopping = True

    def restart_ended(self) -> None:
        for service in self.services:
            if self.is_stopping or service.is_running():
                continue
            self.count_end(service)
            complain(f"{service.name} ended by itself and is started again; its log: {service.log}")
            service.kill_group()
            time.sleep(min(2 ** len(service.ends), 10) / 2)
            if not self.is_stopping:
                service.start()

    def count_end(self, service: Service) -> None:
        now = time.monotonic()
        service.ends = [end for end in service.ends if now - end < WITHIN_SECONDS] + [now]
        if len(service.ends) >= TOO_MANY:
            raise Stop(
                f"{service.name} ended {TOO_MANY} times within {WITHIN_SECONDS} seconds, "
                f"so everything was stopped. Its log is {service.log}; its end:\n{service.last_lines()}"
            )
