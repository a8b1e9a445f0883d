"""`deploy/run`: prepare, start, show the address and the logins, keep running, stop cleanly."""

import argparse
import fcntl
import signal
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from .console import Stop, complain, say
from .environment import prepare_environment
from .installation import prepare_data, remove_data
from .place import DATA, LOCK, LOGINS, LOGS, PYTHON, ROOT, embedded_environment, private_folder
from .ports import check_port, names_of_this_machine
from .service import Service
from .supervisor import Supervisor

EVERY_ADDRESS = ("0.0.0.0", "::")  # noqa: S104 - only compared with what the user asked for
LOOPBACK = ("127.0.0.1", "localhost", "::1")
SECONDS_TO_ANSWER = 60


def main(arguments: Sequence[str] | None = None) -> int:
    """Exit status of `deploy/run`."""
    options = parsed(arguments)
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.default_int_handler)
    try:
        with only_one_at_a_time(address(options)):
            check_port(options.host, options.port)
            prepare_environment("run.lock")
            if options.fresh:
                remove_data()
            prepare_data()
            supervise(options)
    except Stop as stop:
        complain(stop.sentence)
        return 1
    except KeyboardInterrupt:
        complain("Stopped before Verglas was up; starting again picks up where this ended.")
        return 130
    return 0


def parsed(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="deploy/run",
        description="Brings Verglas up on this machine: makes its environment and database on the first "
        "start, keeps both afterwards, and runs until Ctrl-C.",
        epilog="Data, logs and the environment lie in .verglas/. Nothing else on the machine is changed.",
    )
    parser.add_argument("--port", type=port_number, default=8000, help="port of the web pages (8000)")
    parser.add_argument(
        "--host", default="127.0.0.1", help="address to listen on (127.0.0.1: this machine only)"
    )
    parser.add_argument(
        "--fresh", action="store_true", help="throw this installation's data away and start again"
    )
    return parser.parse_args(arguments)


def port_number(text: str) -> int:
    """A port as a number, or a sentence that says what is wrong with it."""
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"“{text}” is not a port; give a number from 1 to 65535")
    return int(text)


def address(options: argparse.Namespace) -> str:
    """Where a browser on this machine finds the pages."""
    host = "localhost" if options.host in EVERY_ADDRESS + LOOPBACK else options.host
    return f"http://{host}:{options.port}/"


@contextmanager
def only_one_at_a_time(where: str) -> Iterator[None]:
    """Holds the data folder's lock, so that two launchers never run two beats on one database."""
    private_folder(DATA)
    with LOCK.open("a+") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            lock.seek(0)
            raise Stop(
                f"Verglas is already running at {lock.read().strip()} – stop that one first."
            ) from None
        lock.truncate(0)
        lock.write(where)
        lock.flush()
        yield


def supervise(options: argparse.Namespace) -> None:
    private_folder(LOGS)
    pages = web(options)
    supervisor = Supervisor([pages, jobs()])
    supervisor.run(lambda: announce(options, pages, supervisor))
    say("Verglas has stopped; everything entered is kept.")


def web(options: argparse.Namespace) -> Service:
    host = f"[{options.host}]" if ":" in options.host else options.host
    how = "--worker-class gthread --workers 1 --threads 8 --no-control-socket --graceful-timeout 10"
    command: list[str | Path] = [PYTHON, "-m", "gunicorn", "deploy.wsgi:application", *how.split()]
    command += ["--bind", f"{host}:{options.port}"]
    hosts = options.host if options.host not in EVERY_ADDRESS else ",".join(names_of_this_machine())
    return Service(
        "The web server", command, embedded_environment(VERGLAS_OWN_NAMES=hosts), ROOT, LOGS / "web.log"
    )


def jobs() -> Service:
    options = "--beat --pool threads --concurrency 2 --without-gossip --without-mingle --loglevel INFO"
    command: list[str | Path] = [PYTHON, "-m", "celery", "-A", "deploy", "worker", *options.split()]
    command += ["--schedule", DATA / "beat-schedule"]
    return Service("The job worker", command, embedded_environment(), ROOT, LOGS / "jobs.log")


def announce(options: argparse.Namespace, pages: Service, supervisor: Supervisor) -> None:
    """Waits for the first answer, then says where Verglas is and who may sign in."""
    deadline = time.monotonic() + SECONDS_TO_ANSWER
    while not supervisor.is_stopping and not answers(options):
        if time.monotonic() > deadline or not pages.is_running():
            raise Stop(
                f"The web server did not come up. Its log is {pages.log}; its end:\n{pages.last_lines()}"
            )
        time.sleep(0.1)
    if supervisor.is_stopping:
        return
    say(f"\nVerglas is running at {address(options)}   (Ctrl-C stops it)")
    if LOGINS.is_file():
        say("\n" + LOGINS.read_text().strip())
    if options.host not in LOOPBACK:
        say(
            "\nPlain HTTP: for a trusted network only. "
            "Phones work offline only over HTTPS; see deploy/runbook.md."
        )


def answers(options: argparse.Namespace) -> bool:
    host = "127.0.0.1" if options.host in EVERY_ADDRESS else options.host
    host = f"[{host}]" if ":" in host else host
    try:
        with urllib.request.urlopen(f"http://{host}:{options.port}/health/", timeout=5) as answer:
            return bool(answer.status == 200)
    except (urllib.error.URLError, TimeoutError, ConnectionError):
        return False
