"""The six status items an owner keeps for the life of an aircraft (14 CFR 91.417(a)(2)(i) to (vi))."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.common.actor import Actor
from fleet.models import Aircraft
from fleet.selectors.meters import Counters, counters_now
from records.selectors.aircraft_sheet import Fitted, configuration
from scheduling.due.terms import Measure
from scheduling.gather.due import items_on
from scheduling.models import Applicability
from scheduling.selectors.due_item import DueRow, due_rows

TURNING = ("engine", "propeller", "rotor")
HEADINGS = {
    "i": "Total time in service of the airframe, each engine, each propeller and each rotor",
    "ii": "Current status of life-limited parts",
    "iii": "Time since last overhaul of items overhauled on a time basis",
    "iv": "Current inspection status, with the time since the last inspection required",
    "v": "Current status of airworthiness directives and safety directives",
    "vi": "Forms for major alterations to what is installed",
}
NO_FORMS = "No major alteration form is kept here. Keep such forms with the aircraft's papers."


@dataclass(frozen=True, slots=True)
class DueStatusItem:
    """One line of the programme as it stands: what it is, when last done and by what, what is next.

    `minutes_since` is the flight time since it was last done; None for components and where it is not known.
    """

    row: DueRow
    source: str
    done_on: str
    proof: str
    minutes_since: int | None = None


@dataclass(frozen=True, slots=True)
class StatusItems:
    """All six items of one aircraft; `inspections`, `life_limits` and `directives` share no line."""

    aircraft: Aircraft
    airframe: Counters
    turning: tuple[Fitted, ...]
    life_limits: tuple[DueStatusItem, ...]
    overhauled: tuple[Fitted, ...]
    inspections: tuple[DueStatusItem, ...]
    directives: tuple[DueStatusItem, ...]


def status_items(actor: Actor, aircraft: Aircraft) -> StatusItems:
    """What is known of each item today."""
    fitted = [row for zone in configuration(aircraft) for row in zone.rows if row.component is not None]
    airframe = counters_now([aircraft.pk])[aircraft.pk]
    lines = _lines(
        actor, airframe, aircraft, {row.component.pk for row in fitted if row.component is not None}
    )
    return StatusItems(
        aircraft=aircraft,
        airframe=airframe,
        turning=tuple(row for row in fitted if row.position.kind.code.startswith(TURNING)),
        life_limits=tuple(line for kind, line in lines if kind == "life"),
        overhauled=tuple(row for row in fitted if row.since_overhaul is not None),
        inspections=tuple(line for kind, line in lines if kind == "inspection"),
        directives=tuple(line for kind, line in lines if kind == "directive"),
    )


def _lines(
    actor: Actor, airframe: Counters, aircraft: Aircraft, fitted: set[int]
) -> list[tuple[str, DueStatusItem]]:
    """Every active line of the programme on the aircraft and what is fitted to it now."""
    items = items_on([aircraft.pk]).select_related("requirement").order_by("requirement__ata", "code", "pk")
    known = {item.pk: item for item in items if item.component_id is None or item.component_id in fitted}
    rows = due_rows(actor, list(known))
    return [(_kind(known[row.id]), _line(known[row.id], row, airframe)) for row in rows]


def _kind(item: Applicability) -> str:
    if item.requirement.is_directive:
        return "directive"
    is_life = item.requirement.is_airworthiness_limitation and item.component_id is not None
    return "life" if is_life else "inspection"


def _line(item: Applicability, row: DueRow, airframe: Counters) -> DueStatusItem:
    then = item.last_done.get("counters", {}).get(Measure.HOURS.value)
    is_known = then is not None and item.component_id is None
    return DueStatusItem(
        row=row,
        source=item.requirement.source,
        done_on=item.done_on.isoformat() if item.done_on else "",
        proof=item.proof or item.opening_note,
        minutes_since=airframe.minutes - int(then) if is_known else None,
    )
