"""Tags: tables, sortable headers, pages, filters and search. All of them are plain links and GET forms."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.core.paginator import Page
from django.http import HttpRequest, QueryDict
from django.template.context import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

register = template.Library()

PAGE_KEYS = ("page", "after", "before")


def query_of(context: Context) -> QueryDict:
    request: HttpRequest | None = context.get("request")
    return request.GET.copy() if request is not None else QueryDict(mutable=True)


def with_query(context: Context, **changes: str) -> str:
    """The present query with these changes; an empty value takes the key away, and paging starts anew."""
    query = query_of(context)
    for key in PAGE_KEYS:
        query.pop(key, None)
    for key, value in changes.items():
        query.pop(key, None)
        if value:
            query[key] = value
    return f"?{query.urlencode()}"


@register.simple_tag(takes_context=True)
def query(context: Context, **changes: str) -> str:
    return with_query(context, **changes)


@register.simple_block_tag
def data_table(content: str, caption: str, keep: bool = False, show_caption: bool = False) -> SafeString:
    values = {"content": content, "caption": caption, "keep": keep, "show_caption": show_caption}
    return render_to_string("components/table.html", values)


@register.inclusion_tag("components/column.html", takes_context=True)
def column(
    context: Context, label: str, sort: str = "", number: bool = False, first: str = "up"
) -> dict[str, Any]:
    """`first` is the direction of the first click: "up" (least first) or "down"."""
    present = query_of(context).get("sort", context.get("sort", "") or "")
    direction = {sort: "up", f"-{sort}": "down"}.get(present, "") if sort else ""
    other = f"-{sort}" if direction == "up" or (not direction and first == "down") else sort
    url = with_query(context, sort=other) if sort else ""
    return {"label": label, "url": url, "direction": direction, "number": number}


@register.inclusion_tag("components/pager.html", takes_context=True)
def pager(context: Context, page: Any, what: str = "row") -> dict[str, Any]:
    """A Django Page, or anything with `next_cursor` and `previous_cursor` (and `total`, if it is known)."""
    if isinstance(page, Page):
        before = with_query(context, page=str(page.previous_page_number())) if page.has_previous() else ""
        after = with_query(context, page=str(page.next_page_number())) if page.has_next() else ""
        where = f"Page {page.number} of {page.paginator.num_pages}"
        return {"before": before, "after": after, "where": where, "total": page.paginator.count, "what": what}
    previous, following = getattr(page, "previous_cursor", ""), getattr(page, "next_cursor", "")
    return {
        "before": with_query(context, before=previous) if previous else "",
        "after": with_query(context, after=following) if following else "",
        "where": "",
        "total": getattr(page, "total", None),
        "what": what,
    }


@register.simple_block_tag(takes_context=True)
def filters(context: Context, content: str, search: str = "", label: str = "Filter") -> SafeString:
    present = query_of(context)
    used = sum(1 for key, value in present.items() if value and key not in (*PAGE_KEYS, "sort"))
    values = {"content": content, "search": search, "label": label, "used": used}
    return render_to_string(
        "components/filters.html", values | {"q": present.get("q", ""), "sort": present.get("sort", "")}
    )


@register.inclusion_tag("components/filter_choice.html", takes_context=True)
def filter_choice(
    context: Context, name: str, label: str, options: Iterable[tuple[Any, str]], every: str = "All"
) -> dict[str, Any]:
    rows = [(str(value), words) for value, words in options]
    return {
        "name": name,
        "label": label,
        "options": rows,
        "every": every,
        "chosen": query_of(context).get(name, ""),
    }


@register.inclusion_tag("components/filter_date.html", takes_context=True)
def filter_date(context: Context, name: str, label: str) -> dict[str, Any]:
    return {"name": name, "label": label, "chosen": query_of(context).get(name, "")}
