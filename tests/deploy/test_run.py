"""The one command from start to stop, with the real web server and the real worker."""

import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from deploy.launch.ports import free_port

ROOT = Path(__file__).resolve().parent.parent.parent
pytestmark = [pytest.mark.serial, pytest.mark.slow]

# The environment is already there: it is the one that runs this test.
LAUNCH = """
import sys
from pathlib import Path
from deploy.launch import place
place.PYTHON = Path(sys.executable)
from deploy.launch import run
run.prepare_environment = lambda lock: None
sys.exit(run.main(sys.argv[1:]))
"""


class Launcher:
    """A running `deploy/run` on its own port and data folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = free_port()
        self.output = folder / "output.txt"
        environment = {key: value for key, value in os.environ.items() if not key.startswith("VERGLAS_")}
        with self.output.open("w") as output:
            self.process = subprocess.Popen(
                [sys.executable, "-c", LAUNCH, "--port", str(self.port)],
                cwd=ROOT,
                env=environment | {"VERGLAS_DATA_FOLDER": str(folder / "data")},
                stdout=output,
                stderr=subprocess.STDOUT,
            )

    def said(self) -> str:
        return self.output.read_text()

    def wait_until_up(self, seconds: float) -> float:
        begun = time.monotonic()
        while "Verglas is running at" not in self.said():
            assert self.process.poll() is None, self.said()
            assert time.monotonic() - begun < seconds, self.said()
            time.sleep(0.1)
        return time.monotonic() - begun

    def children(self, word: str = "") -> list[int]:
        """Everything with this word whose command line names this launcher's port or data folder."""
        listed = subprocess.run(
            ["ps", "-ww", "-eo", "pid=,stat=,args="], capture_output=True, text=True, check=True
        )
        rows = [line.split(maxsplit=2) for line in listed.stdout.splitlines()]
        mine = (f"127.0.0.1:{self.port}", str(self.folder))
        return [
            int(row[0])
            for row in rows
            if int(row[0]) != self.process.pid
            and row[1][0] != "Z"
            and word in row[2]
            and any(part in row[2] for part in mine)
        ]

    def stop(self, number: int) -> int:
        self.process.send_signal(number)
        return self.process.wait(40)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("installation")


@pytest.fixture
def launcher(folder: Path) -> Iterator[Launcher]:
    started = Launcher(folder)
    yield started
    if started.process.poll() is None:
        started.stop(signal.SIGTERM)


@pytest.mark.parametrize("signal_to_stop", [signal.SIGINT, signal.SIGTERM])
def test_it_comes_up_shows_its_logins_and_leaves_no_process_behind(
    launcher: Launcher, folder: Path, signal_to_stop: int
) -> None:
    launcher.wait_until_up(150)
    with urllib.request.urlopen(f"http://127.0.0.1:{launcher.port}/sign-in/") as page:
        assert page.status == 200
    logins = folder / "data" / "logins.txt"
    assert logins.stat().st_mode & 0o777 == 0o600
    assert logins.read_text().strip() in launcher.said()
    assert (folder / "data").stat().st_mode & 0o777 == 0o700
    assert len(launcher.children()) >= 2
    assert launcher.stop(signal_to_stop) == 0
    assert launcher.children() == []


def test_a_second_start_keeps_the_data_and_takes_seconds(launcher: Launcher, folder: Path) -> None:
    launcher.wait_until_up(150)
    before = (folder / "data" / "logins.txt").read_text()
    launcher.stop(signal.SIGTERM)
    again = Launcher(folder)
    try:
        assert again.wait_until_up(150) < 30
        assert "demonstration" not in re.sub(r"(?s)Verglas is running.*", "", again.said())
        assert (folder / "data" / "logins.txt").read_text() == before
    finally:
        again.stop(signal.SIGTERM)


def test_a_killed_worker_is_started_again(launcher: Launcher) -> None:
    launcher.wait_until_up(150)
    first = set(launcher.children("beat-schedule"))
    for pid in first:
        os.kill(pid, signal.SIGKILL)
    deadline = time.monotonic() + 30
    while "is started again" not in launcher.said():
        assert time.monotonic() < deadline, launcher.said()
        time.sleep(0.1)
    while not set(launcher.children("beat-schedule")) - first:
        assert time.monotonic() < deadline, launcher.said()
        time.sleep(0.1)
    assert launcher.process.poll() is None
