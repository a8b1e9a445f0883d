"""Fitting new demands to the work already open or done: raise, join, wait, or nothing new.

Pure. One open task per aircraft, procedure and scope (a position, or empty for the whole aircraft). Work
counts for an event only if it began after it: a purge begun before a line was opened does not purge it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from scheduling.triggers.terms import Before, Demand, Id, TaskState


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a task exists: this event under this rule."""

    event_id: Id
    rule_id: Id


@dataclass(frozen=True, slots=True)
class OpenTaskFacts:
    """A task not yet closed. `waits_for` are ids of open tasks; `started_at` is None before work began."""

    id: Id
    procedure_code: str
    aircraft: str
    state: TaskState
    raised_at: datetime
    started_at: datetime | None = None
    causes: frozenset[Cause] = frozenset()
    waits_for: frozenset[Id] = frozenset()
    scope: str = ""


@dataclass(frozen=True, slots=True)
class ClosedFacts:
    """A task closed or withdrawn. Without a known `started_at` it covers no event reported late."""

    procedure_code: str
    aircraft: str
    closed_at: datetime
    started_at: datetime | None = None
    causes: frozenset[Cause] = frozenset()
    was_done: bool = True
    scope: str = ""


@dataclass(frozen=True, slots=True)
class Raise:
    """A new task. `before` is the strictest of `befores`; `reasons` has one sentence per cause."""

    aircraft: str
    procedure_code: str
    title: str
    before: Before
    befores: tuple[Before, ...]
    causes: tuple[Cause, ...]
    reasons: tuple[str, ...]
    scope: str = ""


@dataclass(frozen=True, slots=True)
class Join:
    """An open task gets further causes. `repeat`: work already begun does not count and starts again."""

    task_id: Id
    procedure_code: str
    befores: tuple[Before, ...]
    causes: tuple[Cause, ...]
    reasons: tuple[str, ...]
    repeat: bool = False


@dataclass(frozen=True, slots=True)
class TaskRef:
    """A task by procedure and scope; an `id` of None means the one just raised."""

    id: Id | None
    procedure_code: str
    scope: str = ""


@dataclass(frozen=True, slots=True)
class Block:
    """`waiting` cannot start before `first` is closed."""

    aircraft: str
    waiting: TaskRef
    first: TaskRef
    words: str


@dataclass(frozen=True, slots=True)
class Merged:
    """The outcome: `actions` in order of work, `blocks` new ones only, `notes` in words for the trail."""

    actions: tuple[Raise | Join, ...]
    blocks: tuple[Block, ...]
    notes: tuple[str, ...]


Key = tuple[str, str, str]


@dataclass(slots=True)
class _Bench:
    """What merging knows while it works; keys are (aircraft, procedure code, scope)."""

    open: dict[Key, OpenTaskFacts]
    wanted: dict[Key, list[Demand]] = field(default_factory=dict)
    edges: dict[Key, list[Key]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def merge(
    demands: Iterable[Demand], open_tasks: Iterable[OpenTaskFacts], closed: Sequence[ClosedFacts] = ()
) -> Merged:
    """Turn demands into new tasks, further causes of open tasks, and what waits for what.

    Example: a purge and a flow test demanded while the flow test is open and the purge was signed before the
    event give `Raise(purge)`, `Join(flow test)` and one `Block` saying the flow test waits for the new purge.
    The same event again gives nothing. Orders that would wait for each other in a circle are noted, not kept.
    """
    bench = _Bench({_key_of(task): task for task in open_tasks})
    for task in bench.open.values():
        for first in bench.open.values():
            if first.id in task.waits_for:
                _wait(bench, _key_of(task), _key_of(first))
    for chain in _chains(demands):
        _take_chain(bench, chain, closed)
    blocks = tuple(block for waiting in bench.edges for block in _new_blocks(bench, waiting))
    return Merged(_actions(bench), blocks, tuple(bench.notes))


def _chains(demands: Iterable[Demand]) -> list[list[list[Demand]]]:
    """Demands of one event under one rule, as steps of equal order, lowest first."""
    grouped: dict[tuple[Id, Id], dict[int, list[Demand]]] = {}
    for demand in demands:
        grouped.setdefault((demand.event_id, demand.rule_id), {}).setdefault(demand.order, []).append(demand)
    return [[steps[order] for order in sorted(steps)] for steps in grouped.values()]


def _take_chain(bench: _Bench, chain: list[list[Demand]], closed: Sequence[ClosedFacts]) -> None:
    """Once one step must be done anew, nothing after it counts as covered by earlier work."""
    first_keys: list[Key] = []
    may_be_covered = True
    for step in chain:
        needed: list[Key] = []
        for demand in step:
            if _is_known(demand, bench, closed):
                needed += [key for key in [_key(demand)] if key in bench.open]
            elif may_be_covered and _is_covered(demand, closed):
                bench.notes.append(f"{demand.title} was already done after the event. {demand.why}")
            else:
                bench.wanted.setdefault(_key(demand), []).append(demand)
                needed.append(_key(demand))
        for waiting in needed:
            for first in first_keys:
                _wait(bench, waiting, first)
        may_be_covered = may_be_covered and not needed
        first_keys = needed or first_keys


def _is_known(demand: Demand, bench: _Bench, closed: Sequence[ClosedFacts]) -> bool:
    cause, key = _cause(demand), _key(demand)
    if key in bench.open and cause in bench.open[key].causes:
        return True
    return any(cause in task.causes and _key_of(task) == key for task in closed)


def _is_covered(demand: Demand, closed: Sequence[ClosedFacts]) -> bool:
    return any(
        task.was_done
        and _key_of(task) == _key(demand)
        and task.started_at is not None
        and task.started_at >= demand.at
        for task in closed
    )


def _wait(bench: _Bench, waiting: Key, first: Key) -> None:
    if first in bench.edges.get(waiting, []):
        return
    if waiting == first or _leads_to(bench, first, waiting):
        bench.notes.append(f"{waiting[1]} was not made to wait for {first[1]}: rules ask for both orders.")
        return
    bench.edges.setdefault(waiting, []).append(first)


def _leads_to(bench: _Bench, start: Key, goal: Key) -> bool:
    seen: set[Key] = set()
    ahead = [start]
    while ahead:
        key = ahead.pop()
        if key == goal:
            return True
        if key not in seen:
            seen.add(key)
            ahead += bench.edges.get(key, [])
    return False


def _actions(bench: _Bench) -> tuple[Raise | Join, ...]:
    """Tasks that wait come after what they wait for; otherwise in the order the demands came."""
    arrival = list(bench.wanted)
    ordered = sorted(arrival, key=lambda key: (_depth(bench, key), arrival.index(key)))
    return tuple(_action(bench, key) for key in ordered)


def _depth(bench: _Bench, key: Key) -> int:
    return max((1 + _depth(bench, first) for first in bench.edges.get(key, [])), default=0)


def _action(bench: _Bench, key: Key) -> Raise | Join:
    demands = bench.wanted[key]
    befores = tuple(sorted({demand.before for demand in demands}, key=Before.strictness))
    causes = tuple(dict.fromkeys(_cause(demand) for demand in demands))
    reasons = tuple(dict.fromkeys(demand.why for demand in demands))
    task = bench.open.get(key)
    if task is None:
        return Raise(key[0], key[1], demands[0].title, befores[0], befores, causes, reasons, key[2])
    repeat = any(_restarts(bench, task, demand) for demand in demands)
    if repeat:
        bench.notes.append(
            f"{demands[0].title}: work begun before the event does not count and starts again."
        )
    return Join(task.id, key[1], befores, causes, reasons, repeat)


def _restarts(bench: _Bench, task: OpenTaskFacts, demand: Demand) -> bool:
    """Work begun before the event, or ahead of work it now has to wait for, starts again."""
    if task.started_at is None:
        return False
    waits_for_new = any(first in bench.wanted for first in bench.edges.get(_key_of(task), []))
    return task.started_at < demand.at or waits_for_new


def _new_blocks(bench: _Bench, waiting: Key) -> Iterable[Block]:
    task = bench.open.get(waiting)
    for first in bench.edges[waiting]:
        first_task = bench.open.get(first)
        if task is not None and first_task is not None and first_task.id in task.waits_for:
            continue
        words = f"{waiting[1]} cannot start before {first[1]} is closed."
        yield Block(waiting[0], _reference(bench, waiting), _reference(bench, first), words)


def _reference(bench: _Bench, key: Key) -> TaskRef:
    task = bench.open.get(key)
    return TaskRef(task.id if task else None, key[1], key[2])


def _key(demand: Demand) -> Key:
    return demand.aircraft, demand.procedure_code, demand.scope


def _key_of(task: OpenTaskFacts | ClosedFacts) -> Key:
    return task.aircraft, task.procedure_code, task.scope


def _cause(demand: Demand) -> Cause:
    return Cause(demand.event_id, demand.rule_id)
