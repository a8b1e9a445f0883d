"""The launcher: sentences for what can go wrong, and processes that are restarted and never left behind."""

import argparse
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from deploy.launch import environment, installation, place
from deploy.launch.console import Stop
from deploy.launch.ports import check_port, free_port
from deploy.launch.run import only_one_at_a_time, port_number
from deploy.launch.service import Service, stop_all
from deploy.launch.supervisor import TOO_MANY, Supervisor

ROOT = Path(__file__).resolve().parent.parent.parent
SLEEPS = "import time; time.sleep(60)"
REFUSES_TO_STOP = (
    "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); "
    "print('up', flush=True); time.sleep(60)"
)


def service(folder: Path, program: str) -> Service:
    command = [sys.executable, "-c", program]
    return Service("The trial", command, os.environ, folder, folder / "trial.log")


def within(seconds: float, holds: Callable[[], bool]) -> bool:
    deadline = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > deadline:
            return False
        time.sleep(0.02)
    return True


def living_in_group(group: int) -> list[str]:
    """Processes of a group, those left out that have ended and only wait to be counted out."""
    listed = subprocess.run(
        ["ps", "-eo", "pgid=,stat=,args="], capture_output=True, text=True, check=True
    ).stdout
    rows = [line.split(maxsplit=2) for line in listed.splitlines()]
    return [row[2] for row in rows if row[0] == str(group) and not row[1].startswith("Z")]


def test_a_port_in_use_is_refused_with_another_one_offered() -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        with pytest.raises(Stop) as stop:
            check_port("127.0.0.1", port)
    assert stop.value.sentence == (
        f"Port {port} is already in use. Stop the program that holds it, "
        f"or choose another: deploy/run --port {port + 1}"
    )


def test_a_free_port_is_accepted() -> None:
    check_port("127.0.0.1", free_port())


def test_an_address_of_another_machine_is_refused() -> None:
    with pytest.raises(Stop, match=r"Nobody can listen on 203\.0\.113\.7:8000"):
        check_port("203.0.113.7", 8000)


@pytest.mark.parametrize("text", ["0", "65536", "80x", "-1", ""])
def test_what_is_not_a_port_is_refused_with_the_range(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="give a number from 1 to 65535"):
        port_number(text)


def test_an_old_python_gets_one_sentence_and_no_traceback() -> None:
    for script in ("run", "test"):
        program = (
            "import runpy, sys\n"
            "sys.version_info = (3, 9, 2, 'final', 0)\n"
            f"runpy.run_path({str(ROOT / 'deploy' / script)!r}, run_name='__main__')\n"
        )
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
        assert done.returncode == 1
        assert done.stderr.startswith("Verglas needs Python 3.11 or newer; this is Python 3.9.")
        assert done.stderr.count("\n") == 1


def test_a_python_without_venv_gets_the_package_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(environment.importlib.util, "find_spec", lambda _name: None)
    with pytest.raises(Stop, match="Install python3-venv"):
        environment.make_environment()


def test_the_environment_is_left_alone_while_the_lock_is_the_same(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    installed: list[Path] = []
    lock = tmp_path / "run.lock"
    lock.write_text("first")
    monkeypatch.setattr(environment, "REQUIREMENTS", tmp_path)
    monkeypatch.setattr(environment, "VENV", tmp_path)
    monkeypatch.setattr(environment, "is_usable", lambda: True)
    monkeypatch.setattr(environment, "install", installed.append)
    for text in ("first", "first", "second"):
        lock.write_text(text)
        environment.prepare_environment("run.lock")
    assert installed == [lock, lock]


def test_a_second_launcher_is_told_where_the_first_one_runs(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("deploy.launch.run.LOCK", tmp_path / "run.lock")
    monkeypatch.setattr("deploy.launch.run.DATA", tmp_path)
    second = only_one_at_a_time("http://localhost:8001/")
    with only_one_at_a_time("http://localhost:8000/"), pytest.raises(Stop) as stop:
        second.__enter__()
    assert stop.value.sentence.startswith("Verglas is already running at http://localhost:8000/")
    with only_one_at_a_time("http://localhost:8002/"):
        assert (tmp_path / "run.lock").read_text() == "http://localhost:8002/"


def test_a_database_is_made_whole_or_not_at_all(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    in_making = tmp_path / "making.sqlite3"
    monkeypatch.setattr(installation, "DATABASE", tmp_path / "verglas.sqlite3")
    monkeypatch.setattr(installation, "DATABASE_IN_MAKING", in_making)

    def manage(command: str, *_arguments: str, **_environment: str) -> None:
        in_making.touch()
        if command == "load_demo":
            raise Stop("no demonstration today")

    monkeypatch.setattr(installation, "manage", manage)
    with pytest.raises(Stop):
        installation.make_database()
    assert not (tmp_path / "verglas.sqlite3").exists()
    monkeypatch.setattr(installation, "manage", lambda *_arguments, **_environment: None)
    installation.make_database()
    assert (tmp_path / "verglas.sqlite3").exists()
    assert not in_making.exists()


def test_the_embedded_environment_ignores_the_server_databases(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VERGLAS_DATABASE_URL", "postgres://somewhere/else")
    monkeypatch.setenv("VERGLAS_REDIS_URL", "redis://somewhere/else")
    given = place.embedded_environment()
    assert (given["VERGLAS_DATABASE_URL"], given["VERGLAS_REDIS_URL"]) == ("", "")


def test_a_process_that_ends_by_itself_is_started_again(tmp_path: Path) -> None:
    trial = service(tmp_path, SLEEPS)
    supervisor = Supervisor([trial])
    trial.start()
    first = trial.process
    assert first is not None
    first.kill()
    first.wait()
    supervisor.restart_ended()
    assert trial.process is not None
    assert trial.process.pid != first.pid
    assert trial.is_running()
    stop_all([trial])


def test_a_process_that_keeps_falling_over_stops_everything_with_its_last_words(tmp_path: Path) -> None:
    trial = service(tmp_path, "raise SystemExit('the trial has no database')")
    trial.ends = [time.monotonic()] * (TOO_MANY - 1)
    trial.start()
    assert within(10, lambda: not trial.is_running())
    with pytest.raises(Stop) as stop:
        Supervisor([trial]).restart_ended()
    assert "The trial ended 5 times within 60 seconds" in stop.value.sentence
    assert stop.value.sentence.endswith("the trial has no database")


def test_a_process_that_refuses_to_stop_is_ended_by_force_with_its_children(tmp_path: Path) -> None:
    child = f"import subprocess, sys; subprocess.Popen([sys.executable, '-c', {SLEEPS!r}]); {REFUSES_TO_STOP}"
    trial = service(tmp_path, child)
    trial.start()
    assert within(10, lambda: trial.last_lines() == "up")
    stop_all([trial], patience=0.2)
    assert trial.process is not None
    assert trial.process.returncode == -signal.SIGKILL
    assert within(5, lambda: living_in_group(trial.process.pid) == [])


def test_a_termination_signal_ends_the_supervisor_and_all_it_started(tmp_path: Path) -> None:
    trials = [service(tmp_path, SLEEPS), service(tmp_path, SLEEPS)]
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    try:
        Supervisor(trials).run(lambda: threading.Timer(0.1, os.kill, (os.getpid(), signal.SIGTERM)).start())
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    assert [trial.is_running() for trial in trials] == [False, False]
