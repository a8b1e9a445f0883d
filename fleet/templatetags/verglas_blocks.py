"""Tags: status marks, why, cautions, buttons, cards, facts, timelines and the like."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import template
from django.template.context import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

register = template.Library()

LEVELS = ("stop", "soon", "clear", "unknown")
CAUTION_LEVELS = ("warning", "caution")
BUTTON_KINDS = ("primary", "quiet", "danger", "plain")
SAFETY = (
    "The aircraft's approved maintenance data, the authority's rules and licensed staff decide; "
    "this tool does not replace them."
)


def known(word: str, words: tuple[str, ...], what: str) -> str:
    """The word itself; a wrong one in a template is the author's mistake and must show at once."""
    if word not in words:
        raise ValueError(f"{what} “{word}” is not one of {', '.join(words)}")
    return word


def piece(name: str, **values: Any) -> SafeString:
    return render_to_string(f"components/{name}.html", values)


@register.simple_block_tag
def capture(content: str) -> str:
    return content.strip() if not isinstance(content, SafeString) else SafeString(content.strip())


@register.inclusion_tag("components/icon.html")
def icon(name: str) -> dict[str, str]:
    return {"name": name}


@register.inclusion_tag("components/mark.html")
def mark(level: str) -> dict[str, str]:
    return {"level": known(level, LEVELS, "level")}


@register.inclusion_tag("components/status.html")
def status(level: str, words: str, detail: str = "", size: str = "") -> dict[str, str]:
    return {"level": known(level, LEVELS, "level"), "words": words, "detail": detail, "size": size}


@register.simple_block_tag
def why(content: str, ask: str = "Why?") -> SafeString:
    return piece("why", content=content, ask=ask)


@register.simple_block_tag
def status_why(content: str, level: str, words: str, detail: str = "", ask: str = "Why?") -> SafeString:
    level = known(level, LEVELS, "level")
    return piece("why", content=content, level=level, words=words, detail=detail, ask=ask)


@register.simple_block_tag
def caution(content: str, level: str = "caution", title: str = "") -> SafeString:
    return piece("caution", content=content, level=known(level, CAUTION_LEVELS, "caution level"), title=title)


@register.simple_block_tag
def note(content: str, title: str = "") -> SafeString:
    return piece("note", content=content, title=title)


@register.simple_block_tag
def panel(content: str, title: str, aside: str = "", id: str = "") -> SafeString:  # noqa: A002
    return piece("panel", content=content, title=title, aside=aside, id=id)


@register.simple_block_tag
def empty(content: str, title: str) -> SafeString:
    return piece("empty", content=content, title=title)


@register.simple_block_tag
def card(content: str, title: str, url: str = "", level: str = "", words: str = "") -> SafeString:
    if level:
        known(level, LEVELS, "level")
    return piece("card", content=content, title=title, url=url, level=level, words=words)


@register.inclusion_tag("components/button.html")
def button(
    label: str, kind: str = "quiet", name: str = "", value: str = "", form: str = ""
) -> dict[str, str]:
    kind = known(kind, BUTTON_KINDS, "button")
    return {"label": label, "kind": kind, "name": name, "value": value, "form": form}


@register.inclusion_tag("components/link_button.html")
def link_button(label: str, url: str, kind: str = "quiet") -> dict[str, str]:
    return {"label": label, "url": url, "kind": known(kind, BUTTON_KINDS, "button")}


@register.inclusion_tag("components/print_button.html")
def print_button(label: str = "Print") -> dict[str, str]:
    return {"label": label}


@register.simple_block_tag(takes_context=True)
def confirm(context: Context, content: str, id: str, **words: str) -> SafeString:  # noqa: A002
    """A button that opens a dialog with a POST form. Words: label, action; title, yes (its button), kind."""
    label = words["label"]
    values = {"title": label, "yes": label, "kind": "danger"} | words
    known(values["kind"], BUTTON_KINDS, "button")
    return piece("confirm", content=content, id=id, csrf_token=context.get("csrf_token", ""), **values)


@register.inclusion_tag("components/crumbs.html")
def crumbs(*pairs: str) -> dict[str, Any]:
    """`{% crumbs "Aircraft" url "QX-SKA" %}`: label, address, label, address …, and the page itself last."""
    steps = [(pairs[i], pairs[i + 1] if i + 1 < len(pairs) else "") for i in range(0, len(pairs), 2)]
    return {"steps": steps}


@register.inclusion_tag("components/facts.html")
def facts(pairs: Iterable[tuple[str, object]] | Mapping[str, object], shape: str = "boxes") -> dict[str, Any]:
    rows = list(pairs.items() if isinstance(pairs, Mapping) else pairs)
    return {"rows": rows, "shape": known(shape, ("boxes", "rows"), "shape")}


@register.simple_block_tag
def fact(content: str, label: str) -> SafeString:
    return piece("fact", content=content, label=label)


@register.inclusion_tag("components/timeline.html")
def timeline(entries: Iterable[Any], zone: str = "UTC") -> dict[str, Any]:
    return {"entries": entries, "zone": zone}


@register.inclusion_tag("components/tabs.html")
def tabs(entries: Iterable[tuple[Any, ...]], current: str, label: str = "Views") -> dict[str, Any]:
    rows = [(*entry, None)[:3] for entry in entries]
    return {"entries": rows, "current": current, "label": label}


@register.inclusion_tag("components/progress.html")
def progress(
    label: str, done: int | None, total: int | None, poll: str = "", result: str = ""
) -> dict[str, Any]:
    return {"label": label, "done": done, "total": total, "poll": poll, "result": result}


@register.inclusion_tag("components/safety.html")
def safety() -> dict[str, str]:
    return {"sentence": SAFETY}
