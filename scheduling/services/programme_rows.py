"""One row of a programme file as what it stands for: columns into limits, and faults back to their columns."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from fleet.common.errors import Invalid, Reason
from fleet.quantities import parse_hours
from scheduling.services.applicability import LastDone
from scheduling.services.requirements import WrittenRequirement

Row = Mapping[str, str]

COUNTED = ("days", "months", "date", "season", "hours", "landings", "cycles", "uses", "flight_days")
PROGRAMME_FIELDS = {
    "code": ("code", "number", "item", "task number"),
    "title": ("title", "description", "name"),
    "ata": ("ata", "chapter", "ata chapter"),
    "source": ("source", "reference", "document"),
    "consequence": ("consequence",),
    "aircraft_type": ("aircraft type", "type"),
    "component_kind": ("component kind", "kind"),
    "options_needed": ("options needed",),
    "options_barred": ("options barred",),
    "procedure": ("procedure",),
    "event_kind": ("event kind",),
    "combine": ("combine", "whichever"),
    **{name: (name.replace("_", " "), f"every {name}") for name in COUNTED},
    "month_rule": ("month rule",),
    "since": ("since",),
    "anchor": ("anchor",),
    **{f"first_{name}": (f"first {name}",) for name in ("days", "months", "hours", "landings", "cycles")},
    **{f"soon_{name}": (f"warn {name}", f"soon {name}") for name in ("days", "hours", "landings", "cycles")},
    "limits": ("limits",),
}
LAST_DONE_FIELDS = {
    "code": ("code", "number", "item", "task number"),
    "registration": ("registration", "aircraft"),
    "part_number": ("part number",),
    "serial_number": ("serial number", "serial"),
    "done_on": ("done on", "date", "last done"),
    "hours": ("hours", "flight hours", "at hours"),
    "landings": ("landings", "at landings"),
    "cycles": ("cycles", "at cycles"),
    "uses": ("uses",),
    "proof": ("proof", "record"),
    "note": ("note", "remarks"),
}
CALENDAR_COUNTED = ("days", "months", "date", "season")


@dataclass(frozen=True, slots=True)
class ReadLimits:
    """The limits of a row as data, and which column each part came from: `{"limits.of[0]": "months"}`."""

    data: dict[str, Any]
    columns: Mapping[str, str] = field(default_factory=dict)

    def column_of(self, path: str) -> str:
        """The column a fault belongs to: `limits.of[0].every` is the one the limit was read from."""
        for prefix, column in sorted(self.columns.items(), key=lambda pair: -len(pair[0])):
            if path.startswith(prefix):
                rest = path.removeprefix(prefix).lstrip(".")
                return f"{rest}_{column}" if rest in ("first", "soon") else column
        return path


def requirement_of_row(row: Row) -> tuple[WrittenRequirement, ReadLimits]:
    """One row of the programme; raises Invalid where its limits cannot be told."""
    limits = limits_of_row(row)
    return (
        WrittenRequirement(
            code=row.get("code", ""),
            title=row.get("title", ""),
            ata=row.get("ata", ""),
            source=row.get("source", ""),
            aircraft_type=row.get("aircraft_type", ""),
            component_kind=row.get("component_kind", ""),
            procedure=row.get("procedure", ""),
            event_kind=row.get("event_kind", ""),
            limits=limits.data,
            consequence=row.get("consequence") or "airworthiness",
            options_needed=_codes(row.get("options_needed", "")),
            options_barred=_codes(row.get("options_barred", "")),
        ),
        limits,
    )


def _codes(text: str) -> tuple[str, ...]:
    return tuple(code for code in text.replace(";", " ").replace(",", " ").split() if code)


def limits_of_row(row: Row) -> ReadLimits:
    """Each counted column that holds something is one limit; several are joined whichever first unless said."""
    if row.get("limits"):
        try:
            return ReadLimits(json.loads(row["limits"]), {"limits": "limits"})
        except ValueError as error:
            raise wrong(
                "limits", row["limits"], "is no limit as data", "leave it out and use the columns"
            ) from error
    named = [name for name in COUNTED if row.get(name)]
    if not named:
        raise wrong("hours", "", "no limit is given", f"fill in one of {', '.join(COUNTED)}")
    members = [_limit(row, name) for name in named]
    if len(members) == 1:
        return ReadLimits(members[0], {"limits": named[0]})
    combine = (row.get("combine") or "first").lower().removeprefix("whichever ").strip()
    columns = {f"limits.of[{number}]": name for number, name in enumerate(named)}
    return ReadLimits({"combine": combine, "of": members}, {**columns, "limits.combine": "combine"})


def _limit(row: Row, name: str) -> dict[str, Any]:
    limit: dict[str, Any] = {"measure": name, "every": _size(name, row[name])}
    unit = "days" if name in CALENDAR_COUNTED else name
    if row.get(f"first_{name}"):
        limit["first"] = _size(name, row[f"first_{name}"])
    if row.get(f"soon_{unit}"):
        limit["soon"] = _size(unit, row[f"soon_{unit}"])
    if name == "months" and row.get("month_rule"):
        limit["month_rule"] = row["month_rule"]
    if row.get("since"):
        limit["since"] = row["since"]
    if row.get("anchor") and name not in ("date", "season"):
        limit["anchor"] = row["anchor"]
    return limit


def _size(name: str, text: str) -> str:
    """Hours without minutes are whole hours: 200 is 200:00; decimal hours must be whole minutes."""
    if name != "hours" or ":" in text or text.startswith("-"):
        return text
    minutes = parse_hours(text, field=name)
    return f"{minutes // 60}:{minutes % 60:02d}"


def last_done_of_row(row: Row) -> LastDone:
    """What was last done, from one row; raises Invalid naming the column."""
    counters = {}
    if row.get("hours"):
        counters["hours"] = parse_hours(row["hours"], field="hours")
    for name in ("landings", "cycles", "uses"):
        if row.get(name):
            counters[name] = _whole(name, row[name])
    return LastDone(_day(row.get("done_on", "")), counters, row.get("proof", ""), row.get("note", ""))


def _whole(name: str, text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise wrong(name, text, "is not a whole number", "write digits only")
    return int(text)


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise wrong("done_on", text, "is no date", "write year-month-day, such as 2026-03-14") from error


def wrong(name: str, value: str, detail: str, remedy: str) -> Invalid:
    """A refusal of one cell."""
    reason = Reason(detail, name, value[:60], remedy)
    return Invalid("bad_row", reason.sentence(), reason)
