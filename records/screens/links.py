"""Addresses of pages that other rooms may or may not offer."""

from __future__ import annotations

from typing import Any

from django.urls import NoReverseMatch, reverse


def link(name: str, *args: Any, query: str = "") -> str:
    """The address of a page, empty where there is none: `link("scheduling:event", 7)`."""
    try:
        address = reverse(name, args=args)
    except NoReverseMatch:
        return ""
    return f"{address}?{query}" if query else address
