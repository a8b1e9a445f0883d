"""What somebody wants to see of the due list, read and checked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from fleet.common.errors import Invalid, Reason
from scheduling.models import Consequence

PAGE_SIZE = 50
LARGEST_PAGE = 200
FURTHEST_WINDOW = 3660

STATES = {
    "overdue": "overdue",
    "due": "due now",
    "due_soon": "due soon",
    "unknown": "not known",
    "ok": "not due yet",
    "complete": "nothing left",
    "attention": "needs attention",
}
SORTS = {
    "due": ("order_day", "applicability_id"),
    "aircraft": ("registration", "order_day", "applicability_id"),
}
GROUPS = ("", "aircraft", "date")


@dataclass(frozen=True, slots=True)
class DueQuery:
    """What somebody wants to see; codes and words as people write them, empty means everything.

    `window` days from today on by the projected day; `sort` "due" or "aircraft", "-" before it turns it round.
    """

    base: str = ""
    aircraft_type: str = ""
    aircraft: str = ""
    consequence: str = ""
    ata: str = ""
    state: str = ""
    window: int | None = None
    q: str = ""
    sort: str = "due"
    group: str = ""
    after: str = ""
    before: str = ""
    limit: int = PAGE_SIZE

    def filters(self) -> dict[str, Any]:
        """The query without its place in the list, as it is kept in a saved view."""
        kept = (
            "base",
            "aircraft_type",
            "aircraft",
            "consequence",
            "ata",
            "state",
            "window",
            "q",
            "sort",
            "group",
        )
        return {name: value for name in kept if (value := getattr(self, name)) not in ("", None)}


def query_from(data: Mapping[str, Any]) -> DueQuery:
    """Read a query string or a kept view; refuses what is not known, naming the field."""
    texts = {name: str(data.get(name) or "").strip() for name in TEXT_FIELDS}
    query = DueQuery(**texts, window=_number(data, "window"), limit=_number(data, "limit") or PAGE_SIZE)
    query = replace(query, sort=query.sort or ("aircraft" if query.group == "aircraft" else "due"))
    _choice("state", query.state, STATES)
    _choice("sort", query.sort.removeprefix("-"), SORTS)
    _choice("group", query.group, GROUPS)
    _choice("consequence", query.consequence, Consequence.values)
    if query.window is not None and query.window > FURTHEST_WINDOW:
        raise wrong_query(
            "window", str(query.window), "is too far ahead", f"write at most {FURTHEST_WINDOW} days"
        )
    return replace(query, limit=min(query.limit, LARGEST_PAGE))


TEXT_FIELDS = (
    "base",
    "aircraft_type",
    "aircraft",
    "consequence",
    "ata",
    "state",
    "q",
    "sort",
    "group",
    "after",
    "before",
)


def _number(data: Mapping[str, Any], name: str) -> int | None:
    given = str(data.get(name) or "").strip()
    if not given:
        return None
    if not (given.isascii() and given.isdigit() and len(given) < 6):
        raise wrong_query(name, given, "is not a whole number", "write 0 or more")
    return int(given)


def _choice(name: str, given: str, known: Iterable[str]) -> None:
    if given and given not in known:
        raise wrong_query(name, given, "is not known", f"use one of {', '.join(one for one in known if one)}")


def wrong_query(field: str, value: str, detail: str, remedy: str) -> Invalid:
    """A refusal of something asked of the list."""
    reason = Reason(detail, field, value[:60], remedy)
    return Invalid("bad_query", reason.sentence(), reason)
