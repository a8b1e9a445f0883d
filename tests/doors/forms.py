"""The forms of a page as somebody at the desk would send them: what stands in them, and a plausible word elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from tests.makers import PASSWORD

USUAL = {
    "date": "2025-03-12",
    "datetime-local": "2025-03-09T11:00",
    "time": "09:00",
    "month": "2025-03",
    "number": "1",
    "email": "somebody@example.org",
    "url": "https://sink.example/form",
    "password": PASSWORD,
}
NOT_FILLED = {"submit", "button", "reset", "image", "file", "search"}


@dataclass
class Form:
    """One form: where it goes and what it sends."""

    action: str
    method: str
    identity: str = ""
    sent: dict[str, list[str]] = field(default_factory=dict)

    def put(self, name: str, value: str) -> None:
        self.sent.setdefault(name, []).append(value)


class _Reader(HTMLParser):
    """Collects forms, the controls that name a form from outside, and buttons that go elsewhere."""

    def __init__(self, address: str) -> None:
        super().__init__()
        self.address = address
        self.forms: list[Form] = []
        self.inside: Form | None = None
        self.strays: list[tuple[str, str, str]] = []
        self.detours: list[tuple[str, Form | None, str]] = []
        self.choice: tuple[str, Form | None, str, list[tuple[str, bool]]] | None = None

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attributes}
        if "hx-post" in given and tag != "form":
            self.forms.append(Form(given["hx-post"], "post"))
        if tag == "form":
            action = given.get("action") or given.get("hx-post") or self.address
            method = "post" if "hx-post" in given else given.get("method", "get").lower()
            self.inside = Form(action, method, given.get("id", ""))
            self.forms.append(self.inside)
        elif tag == "select":
            self.choice = (given.get("name", ""), self.inside, given.get("form", ""), [])
        elif tag == "option" and self.choice:
            self.choice[3].append((given.get("value", ""), "selected" in given))
        elif tag in ("input", "textarea", "button"):
            self._control(tag, given)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = None
        elif tag == "select" and self.choice:
            name, inside, identity, options = self.choice
            self.choice = None
            chosen = [value for value, selected in options if selected and value]
            self._put(inside, identity, name, (chosen or [value for value, _ in options if value] or [""])[0])

    def _control(self, tag: str, given: dict[str, str]) -> None:
        kind = "textarea" if tag == "textarea" else given.get("type", "submit" if tag == "button" else "text")
        if given.get("formaction"):
            self.detours.append((given["formaction"], self.inside, given.get("form", "")))
        if "disabled" in given or not given.get("name"):
            return
        if kind in NOT_FILLED:
            if kind == "submit" and given.get("value"):
                self._put(self.inside, given.get("form", ""), given["name"], given["value"])
            return
        value = given.get("value", "")
        if kind in ("checkbox", "radio"):
            known = self.inside.sent if self.inside else {}
            if "checked" in given or given["name"] not in known:
                self._put(self.inside, given.get("form", ""), given["name"], value or "on")
            return
        self._put(self.inside, given.get("form", ""), given["name"], value or USUAL.get(kind, "words"))

    def _put(self, inside: Form | None, identity: str, name: str, value: str) -> None:
        if identity:
            self.strays.append((identity, name, value))
        elif inside is not None and name:
            inside.put(name, value)


def forms_of(text: str, address: str) -> Iterator[Form]:
    """Every form of a page that posts, ready to be sent."""
    reader = _Reader(address)
    reader.feed(text)
    by_identity = {form.identity: form for form in reader.forms if form.identity}
    for identity, name, value in reader.strays:
        if identity in by_identity:
            by_identity[identity].put(name, value)
    for action, inside, identity in reader.detours:
        home = inside or by_identity.get(identity)
        reader.forms.append(Form(action, "post", "", dict(home.sent) if home else {}))
    yield from (form for form in reader.forms if form.method == "post")


@dataclass
class Judged:
    """What a page's text says about itself."""

    language: str = ""
    headings: int = 0
    inline: list[str] = field(default_factory=list)


class _Judge(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found = Judged()

    def handle_starttag(self, tag: str, attributes: list[tuple[str, Any]]) -> None:
        given = dict(attributes)
        if tag == "html":
            self.found.language = given.get("lang") or ""
        if tag == "h1":
            self.found.headings += 1
        if tag == "style" or (tag == "script" and not given.get("src") and not _is_data(given)):
            self.found.inline.append(f"<{tag}>")
        self.found.inline += [name for name in given if name == "style" or name.startswith("on")]


def _is_data(given: dict[str, Any]) -> bool:
    """A block of data is never run."""
    return given.get("type") in ("application/json", "application/ld+json")


def judged(text: str) -> Judged:
    """Language, headings of the first rank, and whatever a strict content policy would stop."""
    judge = _Judge()
    judge.feed(text)
    return judge.found
