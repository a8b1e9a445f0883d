"""Giving out units of equipment that can stand in for each other.

Pure. The model only counts such units; which one a job takes is settled afterwards, left to right, which
always works out when the count was kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from scheduling.planner.board import Index
from scheduling.planner.problem import Equipment, Id, Slot


def is_pooled(units: Sequence[Equipment]) -> bool:
    """Whether the units of a kind at a base can stand in for each other all week."""
    return len({unit.available for unit in units}) == 1


def give_out_units(facts: Index, slots: Iterable[Slot]) -> tuple[Slot, ...]:
    """Slots in time order with their units of pooled kinds chosen anew; other units stay as they are.

    Example: two jobs one after the other that need one of two kits both take the first.
    """
    free_from: dict[Id, int] = {}
    return tuple(
        _with_units(facts, slot, free_from) for slot in sorted(slots, key=lambda s: (s.start, str(s.job_id)))
    )


def _with_units(facts: Index, slot: Slot, free_from: dict[Id, int]) -> Slot:
    job = facts.jobs[slot.job_id]
    window = facts.window_at(job, slot.start)
    chosen: list[Id] = []
    for kind, count in job.equipment:
        units = facts.units[window.base, kind] if window else []
        if is_pooled(units):
            taken = [unit.id for unit in units if free_from.get(unit.id, 0) <= slot.start][:count]
        else:
            taken = [unit.id for unit in units if unit.id in slot.equipment]
        free_from.update(dict.fromkeys(taken, slot.end))
        chosen += taken
    return replace(slot, equipment=tuple(chosen))
