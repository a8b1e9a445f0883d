"""The six status items as plain data, for programs and for the archive."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fleet.quantities import format_minutes
from fleet.selectors.meters import Counters
from records.selectors.aircraft_sheet import Fitted
from records.selectors.status_items import HEADINGS, NO_FORMS, DueStatusItem, StatusItems


def status_data(items: StatusItems) -> dict[str, Any]:
    """All six items under their own numbers; hours as text (1304:30)."""
    aircraft = items.aircraft
    airframe = {"what": "airframe", "serial_number": aircraft.serial_number, **_counted(items.airframe)}
    return {
        "aircraft": aircraft.registration,
        "type": aircraft.aircraft_type.name,
        "serial_number": aircraft.serial_number,
        "items": [
            _item("i", [airframe, *_components(items.turning, "since_new")]),
            _item("ii", _lines(items.life_limits)),
            _item("iii", _components(items.overhauled, "since_overhaul")),
            _item("iv", _lines(items.inspections)),
            _item("v", _lines(items.directives)),
            _item("vi", [], NO_FORMS),
        ],
    }


def _item(number: str, rows: list[dict[str, Any]], note: str = "") -> dict[str, Any]:
    return {
        "number": number,
        "heading": HEADINGS[number],
        "rows": rows,
        "note": note or ("" if rows else "nothing recorded"),
    }


def _counted(counters: Counters) -> dict[str, str]:
    return {
        "hours": format_minutes(counters.minutes),
        "landings": str(counters.landings),
        "cycles": str(counters.cycles),
    }


def _components(rows: Iterable[Fitted], since: str) -> list[dict[str, Any]]:
    return [
        {
            "what": row.position.name,
            "part_number": row.component.part_number if row.component else "",
            "serial_number": row.component.serial_number if row.component else "",
            "counted": since,
            **_counted(getattr(row, since) or Counters()),
        }
        for row in rows
    ]


def _lines(lines: Iterable[DueStatusItem]) -> list[dict[str, Any]]:
    return [
        {
            "code": line.row.code,
            "title": line.row.title,
            "subject": line.row.subject,
            "source": line.source,
            "done_on": line.done_on,
            "hours_since": "" if line.minutes_since is None else format_minutes(line.minutes_since),
            "proof": line.proof,
            "next_at": line.row.due_at,
            "left": line.row.words,
            "state": line.row.state,
        }
        for line in lines
    ]
