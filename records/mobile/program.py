"""Which files make up the phone's program, and the version they have together."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from django.conf import settings

OWN = Path(__file__).parents[1] / "static"
SHELL_TEMPLATE = Path(__file__).parents[1] / "templates" / "records" / "mobile" / "shell.html"
WORKER = OWN / "records" / "mobile" / "sw.js"
FRAME_FILES = (
    "deploy/verglas.css",
    "deploy/pieces.css",
    "deploy/forms.css",
    "deploy/mark.svg",
    "vendor/fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2",
    "vendor/mobile/preact-htm.js",
    "vendor/mobile/idb.js",
)
# Read by browsers that cannot read QR codes themselves.
SOMETIMES = ("vendor/mobile/jsqr.js",)


@dataclass(frozen=True, slots=True)
class Program:
    """The phone's program: addresses of its files, and one version for all of them."""

    version: str
    files: tuple[str, ...]
    sometimes: tuple[str, ...]

    @property
    def modules(self) -> tuple[str, ...]:
        """The scripts, which the shell asks for at once so that none waits for another."""
        return tuple(each for each in self.files if each.endswith(".js"))


def program() -> Program:
    """The program as it lies here; read once, and anew each time while developing."""
    return _read() if settings.DEBUG else _read_once()


@lru_cache(maxsize=1)
def _read_once() -> Program:
    return _read()


def _read() -> Program:
    mine = sorted(path for path in (OWN / "records" / "mobile").rglob("*.[jc]s*") if path != WORKER)
    names = [*FRAME_FILES, *(str(path.relative_to(OWN)) for path in mine)]
    words = hashlib.sha256()
    for path in (*mine, *(_frame(name) for name in (*FRAME_FILES, *SOMETIMES)), WORKER, SHELL_TEMPLATE):
        words.update(path.read_bytes())
    address = settings.STATIC_URL
    return Program(
        version=words.hexdigest()[:16],
        files=tuple(f"{address}{name}" for name in names),
        sometimes=tuple(f"{address}{name}" for name in SOMETIMES),
    )


def _frame(name: str) -> Path:
    return Path(settings.STATICFILES_DIRS[0]) / name
