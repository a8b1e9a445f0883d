"""The operating status of an aircraft: may it fly, may it fly in icing, and every reason why not.

Pure. Open work, approved relief and overdue items go in; the state, its reasons and the moment it worsens by
itself come out. Times are aware datetimes. The tool states what its own records say; the aircraft's approved
data, the authority's rules and licensed staff decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from scheduling.triggers.terms import Id, TaskState


class FlightState(StrEnum):
    """What the aircraft may do; later members are worse."""

    FREE_TO_FLY = "free_to_fly"
    RESTRICTED_ICING = "restricted_icing"
    NOT_RELEASABLE = "not_releasable"


class Consequence(StrEnum):
    """What an open or overdue item stops."""

    AIRWORTHINESS = "airworthiness"
    ICING = "icing"
    OPERATION = "operation"
    NONE = "none"


class ByWhen(StrEnum):
    """By when an open task must be closed."""

    NEXT_FLIGHT = "next_flight"
    NEXT_ICING_FLIGHT = "next_icing_flight"
    NEXT_TASK = "next_task"
    WITHIN_DAYS = "within_days"
    WITHIN_HOURS = "within_hours"
    DUE = "due"
    NONE = "none"


class ReasonCode(StrEnum):
    """Why the status is what it is; stable for programs."""

    WORK_BEGUN = "work_begun"
    AWAITING_ENTRY = "awaiting_entry"
    OPEN_ITEM = "open_item"
    OPEN_WITHOUT_RELIEF = "open_without_relief"
    OPEN_UNDER_RELIEF = "open_under_relief"
    RELIEF_RUNNING = "relief_running"
    RELIEF_EXPIRED = "relief_expired"
    OVERDUE = "overdue"
    OPERATION_CLOSED = "operation_closed"


AT_ONCE = (ByWhen.NEXT_FLIGHT, ByWhen.NEXT_ICING_FLIGHT, ByWhen.NEXT_TASK)


@dataclass(frozen=True, slots=True)
class OpenItem:
    """An open task. `is_past_limit`: its days, hours or due limit has passed; `is_defect`: found wrong."""

    task_id: Id
    title: str
    consequence: Consequence
    state: TaskState
    by_when: ByWhen = ByWhen.NONE
    is_defect: bool = False
    is_past_limit: bool = False

    def binds(self) -> bool:
        """Whether it stops something now: a task within ten days does not before the ten days are over."""
        return self.is_defect or self.is_past_limit or self.by_when in AT_ONCE


@dataclass(frozen=True, slots=True)
class ReliefFacts:
    """Approved MEL relief that has not been closed. It runs from `recorded_at` up to, not at, `ends_at`.

    `ends_at` None: it counts flights, hours or flight days, and they are not used up. `task_ids` None covers
    every item of that consequence, otherwise only the tasks named.
    """

    id: Id
    item: str
    covers: Consequence
    recorded_at: datetime
    ends_at: datetime | None
    restriction: str = "no flight into known or forecast icing"
    task_ids: frozenset[Id] | None = None


@dataclass(frozen=True, slots=True)
class OverdueItem:
    """A requirement past its limit and its permitted variation; `words` say by how much."""

    due_id: Id
    title: str
    consequence: Consequence
    words: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason: what it does to the state, in words, and the task, relief or due it points to."""

    code: ReasonCode
    state: FlightState
    words: str
    task_id: Id | None = None
    relief_id: Id | None = None
    due_id: Id | None = None
    ends_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class OperatingStatus:
    """The state with its reasons, worst first; `worsens_at` is when relief ends if nothing is done."""

    state: FlightState
    reasons: tuple[Reason, ...]
    worsens_at: datetime | None = None

    def headline(self) -> str:
        """The state in words: "restricted: no flight into known or forecast icing"."""
        return HEADLINES[self.state]


HEADLINES = {
    FlightState.FREE_TO_FLY: "free to fly",
    FlightState.RESTRICTED_ICING: "restricted: no flight into known or forecast icing",
    FlightState.NOT_RELEASABLE: "not releasable",
}


def operating_status(
    open_items: Iterable[OpenItem],
    reliefs: Iterable[ReliefFacts],
    overdue_items: Iterable[OverdueItem],
    now: datetime,
) -> OperatingStatus:
    """The worst state any item asks for, with every reason.

    Example: an open flow test with consequence icing gives NOT_RELEASABLE without relief (14 CFR 91.213(a)),
    RESTRICTED_ICING while approved relief runs, and NOT_RELEASABLE again from the moment relief ends.
    """
    known = tuple(reliefs)
    running = [relief for relief in known if relief.recorded_at <= now and not _has_ended(relief, now)]
    reasons = [_relief_reason(relief, now) for relief in known if relief.recorded_at <= now]
    reasons += [reason for item in open_items for reason in _open_reasons(item, running)]
    reasons += [reason for item in overdue_items for reason in _overdue_reasons(item, running)]
    order = tuple(FlightState)
    reasons.sort(key=lambda reason: -order.index(reason.state))
    state = reasons[0].state if reasons else FlightState.FREE_TO_FLY
    ends = [relief.ends_at for relief in running if relief.ends_at is not None]
    worsens_at = min(ends) if ends and state is not FlightState.NOT_RELEASABLE else None
    return OperatingStatus(state, tuple(reasons), worsens_at)


def _has_ended(relief: ReliefFacts, now: datetime) -> bool:
    return relief.ends_at is not None and now >= relief.ends_at


def _relief_reason(relief: ReliefFacts, now: datetime) -> Reason:
    if relief.ends_at is not None and now >= relief.ends_at:
        words = f"Relief {relief.item} ended on {_moment(relief.ends_at)}: no flight until it is mended."
        code, state = ReasonCode.RELIEF_EXPIRED, FlightState.NOT_RELEASABLE
    else:
        until = _moment(relief.ends_at) if relief.ends_at else "its flights, hours or flight days are used up"
        words = f"Relief {relief.item} runs until {until}: {relief.restriction}."
        code = ReasonCode.RELIEF_RUNNING
        icing = relief.covers is Consequence.ICING
        state = FlightState.RESTRICTED_ICING if icing else FlightState.FREE_TO_FLY
    return Reason(code, state, words, relief_id=relief.id, ends_at=relief.ends_at)


def _open_reasons(item: OpenItem, running: Sequence[ReliefFacts]) -> Iterable[Reason]:
    """Work begun or unsigned grounds whatever it is (14 CFR 91.407(a), 135.427(b)(9))."""
    grounded = FlightState.NOT_RELEASABLE
    if item.state is TaskState.AWAITING_SIGNATURE:
        words = f"{item.title} is done but not signed: no flight before the entry is made."
        yield Reason(ReasonCode.AWAITING_ENTRY, grounded, words, item.task_id)
    elif item.state is TaskState.IN_WORK:
        words = f"{item.title} is in work: no flight before it is finished or closed off, and signed."
        yield Reason(ReasonCode.WORK_BEGUN, grounded, words, item.task_id)
    elif not item.binds() or item.consequence is Consequence.NONE:
        return
    elif item.consequence is Consequence.OPERATION:
        words = f"{item.title} is open: the operation it serves is closed."
        yield Reason(ReasonCode.OPERATION_CLOSED, FlightState.FREE_TO_FLY, words, item.task_id)
    elif item.by_when is ByWhen.NEXT_FLIGHT or not _may_be_relieved(item):
        yield Reason(
            ReasonCode.OPEN_ITEM,
            grounded,
            f"{item.title} must be signed before the next flight.",
            item.task_id,
        )
    else:
        yield _relieved(item, _cover(item.consequence, item.task_id, running))


def _may_be_relieved(item: OpenItem) -> bool:
    """Relief covers equipment that does not work; it never covers work that is merely late."""
    return item.consequence is Consequence.ICING or (item.is_defect and not item.is_past_limit)


def _cover(
    consequence: Consequence, task_id: Id | None, running: Sequence[ReliefFacts]
) -> ReliefFacts | None:
    """The running relief over an item; where several cover it, the one that ends first is stated."""
    covering = [
        relief
        for relief in running
        if relief.covers is consequence and (relief.task_ids is None or task_id in relief.task_ids)
    ]
    return min(covering, key=lambda r: (r.ends_at is None, r.ends_at or r.recorded_at), default=None)


def _relieved(item: OpenItem, relief: ReliefFacts | None) -> Reason:
    if relief is None:
        words = f"{item.title} is open and no approved relief is running."
        return Reason(ReasonCode.OPEN_WITHOUT_RELIEF, FlightState.NOT_RELEASABLE, words, item.task_id)
    icing = item.consequence is Consequence.ICING
    return Reason(
        code=ReasonCode.OPEN_UNDER_RELIEF,
        state=FlightState.RESTRICTED_ICING if icing else FlightState.FREE_TO_FLY,
        words=f"{item.title} is open under relief {relief.item}: {relief.restriction}.",
        task_id=item.task_id,
        relief_id=relief.id,
        ends_at=relief.ends_at,
    )


def _overdue_reasons(item: OverdueItem, running: Sequence[ReliefFacts]) -> Iterable[Reason]:
    if item.consequence is Consequence.NONE:
        return
    tail = f" ({item.words})" if item.words else ""
    state, relief = FlightState.NOT_RELEASABLE, None
    words = f"{item.title} is overdue{tail}: no flight before it is done."
    if item.consequence is Consequence.OPERATION:
        state, words = (
            FlightState.FREE_TO_FLY,
            f"{item.title} is overdue{tail}: the operation it serves is closed.",
        )
    elif item.consequence is Consequence.ICING:
        relief = _cover(Consequence.ICING, None, running)
        if relief is not None:
            state = FlightState.RESTRICTED_ICING
            words = f"{item.title} is overdue{tail}, under relief {relief.item}: {relief.restriction}."
    yield Reason(
        code=ReasonCode.OVERDUE,
        state=state,
        words=words,
        relief_id=relief.id if relief else None,
        due_id=item.due_id,
        ends_at=relief.ends_at if relief else None,
    )


class FlightRules(StrEnum):
    """The rules a flight is made under."""

    IFR = "ifr"
    VFR = "vfr"


class Icing(StrEnum):
    """Light or moderate icing on the way: none, only forecast, or known."""

    NONE = "none"
    FORECAST = "forecast"
    KNOWN = "known"


class Ruling(StrEnum):
    """What the regulation says about a flight."""

    ALLOWED = "allowed"
    FORBIDDEN = "forbidden"
    SILENT = "silent"


def icing_rule(*, is_functioning: bool, rules: FlightRules, icing: Icing) -> Ruling:
    """What 14 CFR 91.527(b) and 135.227 say of a flight into light or moderate icing.

    Example: ice protection inoperative, VFR, icing only forecast: SILENT (the regulation names known icing).
    """
    if is_functioning or icing is Icing.NONE:
        return Ruling.ALLOWED
    if rules is FlightRules.VFR and icing is Icing.FORECAST:
        return Ruling.SILENT
    return Ruling.FORBIDDEN


@dataclass(frozen=True, slots=True)
class FlightAnswer:
    """May this flight be made, with the reason in one sentence."""

    allowed: bool
    words: str


def may_fly(status: OperatingStatus, rules: FlightRules, icing: Icing) -> FlightAnswer:
    """Whether the status lets a flight be made under these rules into this icing.

    Example: restricted, VFR, icing only forecast: not allowed, because the relief's restriction names
    forecast icing although the regulation is silent.
    """
    if status.state is FlightState.NOT_RELEASABLE:
        return FlightAnswer(False, f"Not releasable: {status.reasons[0].words}")
    if status.state is FlightState.FREE_TO_FLY:
        return FlightAnswer(True, "Free to fly, within the aircraft's approved limitations.")
    ruling = icing_rule(is_functioning=False, rules=rules, icing=icing)
    if ruling is Ruling.ALLOWED:
        return FlightAnswer(True, "Restricted, but no icing is known or forecast on the way.")
    if ruling is Ruling.SILENT:
        return FlightAnswer(False, "The relief forbids forecast icing; the regulation alone would be silent.")
    return FlightAnswer(
        False, f"Ice protection is not available: no {rules.upper()} flight into {icing} icing."
    )


def start_refusal(title: str, unfinished: Sequence[str]) -> str:
    """Why a task may not start yet, or "" if it may: work it waits for is named.

    Example: `start_refusal("Panel flow test", ["Panel purge"])` is "Panel flow test cannot start: Panel purge
    must be closed first."
    """
    if not unfinished:
        return ""
    return f"{title} cannot start: {' and '.join(unfinished)} must be closed first."


def _moment(moment: datetime) -> str:
    return f"{moment.day} {moment:%b %Y %H:%M %Z}"
