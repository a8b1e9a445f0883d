"""A web server in a thread that takes signed webhooks and remembers every one, as a receiver would."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from time import sleep

from scheduling.services.webhook_signature import signature
from tests.scheduling.reminders.office import KNOWN_SECRET


@dataclass
class Received:
    """One request as it came."""

    message_id: str
    timestamp: int
    signature: str
    body: bytes

    @property
    def is_genuine(self) -> bool:
        return self.signature == signature(KNOWN_SECRET, self.message_id, self.timestamp, self.body)


@dataclass
class Sink:
    """What came in; `status` says what it answers, `pause` how long it holds its answer back."""

    url: str = ""
    status: int = 204
    pause: float = 0.0
    received: list[Received] = field(default_factory=list)
    when_asked: Callable[[], None] = lambda: None

    def taken(self) -> dict[str, set[bytes]]:
        """What a receiver keeps that honours the identity: bodies by id."""
        found: dict[str, set[bytes]] = {}
        for one in list(self.received):
            found.setdefault(one.message_id, set()).add(one.body)
        return found


@contextmanager
def a_sink() -> Iterator[Sink]:
    sink = Sink()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            heads = self.headers
            sink.received.append(
                Received(
                    heads["webhook-id"], int(heads["webhook-timestamp"]), heads["webhook-signature"], body
                )
            )
            sink.when_asked()
            sleep(sink.pause)
            try:
                self.send_response(sink.status)
                if sink.status == 302:
                    self.send_header("location", sink.url)
                self.send_header("content-length", "0")
                self.end_headers()
            except OSError:
                pass

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    sink.url = f"http://127.0.0.1:{server.server_port}/hook"
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield sink
    finally:
        server.shutdown()
        server.server_close()
