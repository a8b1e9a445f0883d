"""What is kept between two occasions: the dues the last work answered, as plain data and back. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from scheduling.due.terms import LastDue, Point


def last_due_to_data(last_due: Mapping[str, LastDue]) -> dict[str, dict[str, Any]]:
    """The dues the last work answered, as plain data to keep: days as text, counters as numbers."""
    return {
        path: {
            "at": _point_to_data(due.at),
            "anchor": due.anchor.isoformat() if due.anchor else None,
            "extended": due.extended,
        }
        for path, due in last_due.items()
    }


def last_due_from_data(data: Mapping[str, Mapping[str, Any]]) -> dict[str, LastDue]:
    """Read back what `last_due_to_data` wrote."""
    return {
        path: LastDue(
            at=_point_from_data(kept["at"]),
            anchor=date.fromisoformat(kept["anchor"]) if kept.get("anchor") else None,
            extended=bool(kept.get("extended", False)),
        )
        for path, kept in data.items()
    }


def _point_to_data(point: Point) -> int | str:
    return point.isoformat() if isinstance(point, date) else point


def _point_from_data(kept: int | str) -> Point:
    return date.fromisoformat(kept) if isinstance(kept, str) else kept
