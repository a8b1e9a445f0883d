"""What the launcher says to the person at the terminal."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager


class Stop(Exception):
    """The launcher cannot go on; `sentence` says why and what helps."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def say(text: str = "") -> None:
    print(text, flush=True)


def complain(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


@contextmanager
def step(title: str) -> Iterator[None]:
    """Names a step while it runs and gives its seconds when it is done."""
    print(f"{title} … ", end="", flush=True)
    begun = time.monotonic()
    try:
        yield
    except BaseException:
        print("stopped", flush=True)
        raise
    print(f"{time.monotonic() - begun:.1f} s", flush=True)
