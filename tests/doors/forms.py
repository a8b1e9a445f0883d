"""The forms of a page as somebody at the desk would send them: what stands in them, and a plausible word elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urldefrag, urljoin

from tests.makers import PASSWORD

USUAL = {
    "date": "2025-03-05",
    "datetime-local": "2025-03-09T11:00",
    "time": "09:00",
    "month": "2025-03",
    "number": "1",
    "email": "somebody@example.org",
    "url": "https://sink.example/form",
    "password": PASSWORD,
}
WORDS: dict[str, str] = {}
NOT_FILLED = {"button", "reset", "image", "file"}
Given = dict[str, str]
Sent = dict[str, list[str]]


def plausible(name: str, kind: str) -> str:
    """What somebody might write into an empty control."""
    return WORDS.get(name) or USUAL.get(kind, "words")


@dataclass(frozen=True, slots=True)
class Button:
    """What sends a form: its own name and value, and where it differs from the form in place and method."""

    name: str = ""
    value: str = ""
    action: str = ""
    method: str = ""


@dataclass
class Form:
    """One form: where it goes, the least it sends (what must be filled in is), and the most."""

    action: str
    method: str
    identity: str = ""
    least: Sent = field(default_factory=dict)
    most: Sent = field(default_factory=dict)
    buttons: list[Button] = field(default_factory=list)

    def put(self, given: Given, stands: list[str], filled: list[str]) -> None:
        """A control as it stands, and as it is when filled in."""
        if given.get("name") and "disabled" not in given:
            least = filled if "required" in given and not any(stands) else stands
            self.least.setdefault(given["name"], []).extend(least)
            self.most.setdefault(given["name"], []).extend(stands if any(stands) else filled)

    def pressed(self) -> Iterator[Form]:
        """The form as each of its buttons sends it; one without buttons is sent by itself."""
        for button in self.buttons or [Button()]:
            own = {button.name: [button.value]} if button.name else {}
            yield replace(
                self,
                action=button.action or self.action,
                method=button.method or self.method,
                least=self.least | own,
                most=self.most | own,
            )


class _Reader(HTMLParser):
    """Collects forms, and the controls that name a form from outside."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.inside: Form | None = None
        self.strays: list[tuple[str, Callable[[Form], None]]] = []
        self.choice: tuple[Given, list[tuple[str, bool]]] | None = None
        self.written: tuple[Given, list[str]] | None = None

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attributes}
        if tag == "form":
            method = "post" if "hx-post" in given else given.get("method", "get").lower()
            self.inside = Form(given.get("action") or given.get("hx-post", ""), method, given.get("id", ""))
            self.forms.append(self.inside)
        elif "hx-post" in given:
            self.forms.append(Form(given["hx-post"], "post"))
        elif tag == "select":
            self.choice = (given, [])
        elif tag == "option" and self.choice:
            self.choice[1].append((given.get("value", ""), "selected" in given))
        elif tag == "textarea":
            self.written = (given, [])
        elif tag in ("input", "button"):
            self._control(given.get("type", "submit" if tag == "button" else "text"), given)

    def handle_data(self, text: str) -> None:
        if self.written:
            self.written[1].append(text)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = None
        elif tag == "textarea" and self.written:
            given, texts = self.written
            self.written = None
            self._put(given, ["".join(texts).strip()], [plausible(given.get("name", ""), "text")])
        elif tag == "select" and self.choice:
            given, options = self.choice
            self.choice = None
            chosen = [value for value, selected in options if selected]
            usual = [] if "multiple" in given else [value for value, _ in options][:1]
            self._put(given, chosen or usual, [value for value, _ in options if value][:1])

    def _control(self, kind: str, given: Given) -> None:
        value = given.get("value", "")
        if kind == "submit":
            button = Button(*(given.get(name, "") for name in ("name", "value", "formaction", "formmethod")))
            self._give(given, lambda form: form.buttons.append(button))
        elif kind == "radio":
            self._give(given, lambda form: _put_radio(form, given, value or "on"))
        elif kind == "checkbox":
            self._put(given, [value or "on"] if "checked" in given else [], [value or "on"])
        elif kind == "hidden":
            self._put(given, [value], [value])
        elif kind not in NOT_FILLED:
            self._put(given, [value], [plausible(given.get("name", ""), kind)])

    def _put(self, given: Given, stands: list[str], filled: list[str]) -> None:
        self._give(given, lambda form: form.put(given, stands, filled))

    def _give(self, given: Given, what: Callable[[Form], None]) -> None:
        if "form" in given:
            self.strays.append((given["form"], what))
        elif self.inside is not None:
            what(self.inside)


def _put_radio(form: Form, given: Given, value: str) -> None:
    """One of several under one name: the one that is chosen, else the first."""
    name = given.get("name", "")
    if "checked" in given:
        form.least[name] = form.most[name] = [value]
    elif not form.most.get(name):
        form.put(given, [], [value])


def forms_of(text: str, address: str) -> list[Form]:
    """Every form of the page at an address as each of its buttons sends it; actions are whole addresses."""
    reader = _Reader()
    reader.feed(text)
    by_identity = {form.identity: form for form in reader.forms if form.identity}
    for identity, give in reader.strays:
        if identity in by_identity:
            give(by_identity[identity])
    forms = [pressed for form in reader.forms for pressed in form.pressed()]
    for form in forms:
        form.action = urldefrag(urljoin(address, form.action)).url
    return forms


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
