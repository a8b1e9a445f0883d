"""One long-running process: started in its own group, stopped gently first, never left behind."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

LARGEST_LOG = 5_000_000


def stop_with_parent() -> None:
    """Linux only: should the launcher be killed outright, this child gets the signal to stop."""
    if sys.platform == "linux":
        set_parent_death_signal = 1
        ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGTERM)


@dataclass(slots=True)
class Service:
    """A named command, its log, and the process that runs it now."""

    name: str
    command: Sequence[str | Path]
    environment: Mapping[str, str]
    folder: Path
    log: Path
    user: str | None = None
    stop_signal: int = signal.SIGTERM
    process: subprocess.Popen[bytes] | None = None
    ends: list[float] = field(default_factory=list)

    def start(self) -> None:
        with self.open_log() as output:
            self.process = subprocess.Popen(
                [str(part) for part in self.command],
                env=dict(self.environment),
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                preexec_fn=stop_with_parent,  # noqa: PLW1509 - the launcher runs no threads
                user=self.user,
                group=self.user,
                extra_groups=[] if self.user else None,
            )

    def open_log(self) -> IO[bytes]:
        """The log to append to; a large one is set aside first."""
        if self.log.is_file() and self.log.stat().st_size > LARGEST_LOG:
            self.log.replace(self.log.with_suffix(".old"))
        return self.log.open("ab")

    def is_running(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def ask_to_stop(self) -> None:
        """Signals the main process only: its own children are for it to end, in the midst of no work."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(self.stop_signal)

    def wait(self, seconds: float) -> bool:
        """Whether the process ended within this time."""
        if self.process is None:
            return True
        try:
            self.process.wait(max(seconds, 0))
        except subprocess.TimeoutExpired:
            return False
        return True

    def kill_group(self) -> None:
        """Ends whatever of the group is still there."""
        if self.process is None:
            return
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def last_lines(self, count: int = 8) -> str:
        if not self.log.is_file():
            return ""
        return "\n".join(self.log.read_text(errors="replace").splitlines()[-count:])


def stop_all(services: Sequence[Service], patience: float = 15) -> None:
    """Asks every process to end, waits, and ends by force what is left after `patience` seconds."""
    for service in services:
        service.ask_to_stop()
    deadline = time.monotonic() + patience
    for service in services:
        service.wait(deadline - time.monotonic())
        service.kill_group()
