"""By when: a task that must come before the next one must be done as early as the one it comes before.

Pure.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from scheduling.triggers.terms import Before, BeforeKind, Demand


def settled(demands: Iterable[Demand]) -> tuple[Demand, ...]:
    """The same demands, "before the next task" made into the strictest limit of the tasks that follow it.

    Example: a purge "before the next task" and a flow test "before the next flight in icing" of one rule give
    two demands "before the next flight in icing".
    """
    known = tuple(demands)
    return tuple(_settled(demand, known) for demand in known)


def _settled(demand: Demand, known: tuple[Demand, ...]) -> Demand:
    if demand.before.kind is not BeforeKind.NEXT_TASK:
        return demand
    following = [
        other.before
        for other in known
        if (other.event_id, other.rule_id) == (demand.event_id, demand.rule_id)
        and other.order > demand.order
        and other.before.kind is not BeforeKind.NEXT_TASK
    ]
    return replace(demand, before=min(following, key=Before.strictness)) if following else demand
