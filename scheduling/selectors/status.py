"""The operating status of aircraft: open work, approved relief and overdue items asked together."""

from __future__ import annotations

from collections.abc import Iterable

from fleet.common.clock import now
from scheduling.gather.work import open_items, relief_facts
from scheduling.selectors.due import overdue_items
from scheduling.status import OperatingStatus, operating_status


def status_of(aircraft_ids: Iterable[int]) -> dict[int, OperatingStatus]:
    """The status of each aircraft with its reasons, in a constant number of queries."""
    ids = list(dict.fromkeys(aircraft_ids))
    items, reliefs, overdue = open_items(ids), relief_facts(ids), overdue_items(ids)
    moment = now()
    return {
        pk: operating_status(items.get(pk, ()), reliefs.get(pk, ()), overdue.get(pk, ()), moment)
        for pk in ids
    }
