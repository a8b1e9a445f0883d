"""Every door of the product, read from the addresses themselves: a door added tomorrow is here tomorrow."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

API = "api/v1/"
METHODS = ("get", "post", "put", "patch", "delete")
CONVERTER = re.compile(r"<(?:\w+:)?(\w+)>")


@dataclass(frozen=True, slots=True)
class Door:
    """One method of one address: `Door("post", "tasks/{task_id}/start/", …)`; `name` only for screens."""

    method: str
    path: str
    view: Any
    name: str = ""

    def __str__(self) -> str:
        return f"{self.method.upper()} {self.path}"

    @property
    def parameters(self) -> list[str]:
        """The names in its address, in order."""
        return re.findall(r"{(\w+)}", self.path)

    @property
    def writes(self) -> bool:
        return self.method != "get"


def _leaves(patterns: list[Any], before: str = "", space: str = "") -> Iterator[tuple[str, str, URLPattern]]:
    for one in patterns:
        path = before + str(one.pattern)
        if isinstance(one, URLResolver):
            inner = f"{space}{one.namespace}:" if one.namespace else space
            yield from _leaves(one.url_patterns, path, inner)
        else:
            yield CONVERTER.sub(r"{\1}", path), f"{space}{one.name or ''}", one


def _methods(view: Any) -> list[str]:
    """The methods a class answers; a plain function answers GET."""
    kind = getattr(view, "cls", None) or getattr(view, "view_class", None)
    if kind is None:
        return ["get"]
    allowed = set(kind.http_method_names)
    return [method for method in METHODS if method in allowed and callable(getattr(kind, method, None))]


def api_doors() -> list[Door]:
    """Every method of every address of the API, without its own schema."""
    return [
        Door(method, path.removeprefix(API), leaf.callback)
        for path, _, leaf in _leaves(get_resolver().url_patterns)
        if path.startswith(API) and path != f"{API}schema/"
        for method in _methods(leaf.callback)
    ]


def screen_doors() -> list[Door]:
    """Every method of every address that is no part of the API or of the framework's own administration."""
    return [
        Door(method, path, leaf.callback, name)
        for path, name, leaf in _leaves(get_resolver().url_patterns)
        if not path.startswith(("api/", "admin/", "static/"))
        for method in _methods(leaf.callback)
    ]
