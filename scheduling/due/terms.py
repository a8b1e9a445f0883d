"""The words of the due engine: limits, marks, facts and results, all frozen. Pure.

Units: hours and minutes in use are whole minutes; landings, cycles, uses and flight days are counts; calendar
measures count days or whole months. `Point` is where a limit falls: a counter value or a day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType

Point = int | date


class Measure(StrEnum):
    """What a limit counts. The value is also the key of that counter in `Mark.counters`."""

    DAYS = "days"
    MONTHS = "months"
    DATE = "date"
    SEASON = "season"
    HOURS = "hours"
    LANDINGS = "landings"
    CYCLES = "cycles"
    USES = "uses"
    FLIGHT_DAYS = "flight_days"
    USE_MINUTES = "use_minutes"


CALENDAR = frozenset({Measure.DAYS, Measure.MONTHS, Measure.DATE, Measure.SEASON})
IN_MINUTES = frozenset({Measure.HOURS, Measure.USE_MINUTES})


class Since(StrEnum):
    """The mark an interval runs from."""

    LAST_DONE = "last_done"
    FITTED = "fitted"
    NEW = "new"
    OVERHAUL = "overhaul"
    EVENT = "event"


class MonthRule(StrEnum):
    """Where in the month a calendar-month interval ends."""

    END_OF_MONTH = "end_of_month"
    SAME_DAY = "same_day"


class Anchor(StrEnum):
    """Where the next interval starts counting once the work is done."""

    FROM_DUE = "from_due"
    FROM_DONE = "from_done"
    WINDOW = "window"
    FROM_DUE_IF_EXTENDED = "from_due_if_extended"


class Combine(StrEnum):
    """Whichever comes first, or whichever comes last."""

    FIRST = "first"
    LAST = "last"


class DueStatus(StrEnum):
    """How a limit stands; `unknown` means a fact is missing, `complete` that nothing is left to do."""

    OK = "ok"
    DUE_SOON = "due_soon"
    DUE = "due"
    OVERDUE = "overdue"
    UNKNOWN = "unknown"
    COMPLETE = "complete"


class SeasonEdge(StrEnum):
    """A season limit that uses the base's own icing season instead of a written date."""

    BEGINS = "begins"
    ENDS = "ends"


class AmountUnit(StrEnum):
    """`own`: the limit's own unit (minutes, counts; days for calendar limits). `months`: calendar months."""

    OWN = "own"
    MONTHS = "months"


@dataclass(frozen=True, slots=True)
class MonthDay:
    """A day of every year; 29 February is the 28th in years without one."""

    month: int
    day: int


@dataclass(frozen=True, slots=True)
class Amount:
    """How far a limit may move: `Amount(600)` on hours is ten hours, `Amount(1, MONTHS)` one month."""

    value: int
    unit: AmountUnit = AmountUnit.OWN


@dataclass(frozen=True, slots=True)
class Overrun:
    """What the rule itself lets a limit be exceeded by, perhaps only en route to a place of inspection."""

    allowed: Amount
    en_route_only: bool = False


@dataclass(frozen=True, slots=True)
class Window:
    """Per cent of the interval on both sides of the due point, and a cap in minutes, counts or days."""

    percent: Fraction
    cap: int | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a requirement.

    `interval`: minutes for hours and minutes in use; a count for other counters; days; months; a date
    for DATE; a MonthDay (as written for the north) or SeasonEdge for SEASON. `first`: the threshold for
    the first time, counted from `first_since`. `once`: nothing is left after it was done. `more_than`:
    reached only when the interval is exceeded. `soon`: when to warn, in own units (days for calendar
    limits). `early`: for SEASON, how many days before the date work already counts for it (half a year
    when not given).
    """

    measure: Measure
    interval: int | date | MonthDay | SeasonEdge
    first: int | None = None
    since: Since = Since.LAST_DONE
    first_since: Since = Since.NEW
    once: bool = False
    more_than: bool = False
    month_rule: MonthRule = MonthRule.END_OF_MONTH
    anchor: Anchor = Anchor.FROM_DONE
    overrun: Overrun | None = None
    window: Window | None = None
    soon: int | None = None
    early: int | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Several limits, or groups of them, of which the first or the last to come decides."""

    combine: Combine
    members: tuple[Limit | Group, ...]


Limits = Limit | Group


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment in the life of the subject: the day, what its counters showed, and the record that says so."""

    day: date | None = None
    counters: Mapping[str, int] = field(default_factory=dict)
    record: str | None = None


@dataclass(frozen=True, slots=True)
class LastDue:
    """Where a limit fell due when the work was last done.

    `anchor` is the day months are counted from (31 January keeps its 31 through February); `extended`
    says that a permitted variation was granted for that due.
    """

    at: Point
    anchor: date | None = None
    extended: bool = False


@dataclass(frozen=True, slots=True)
class Variation:
    """A permitted variation granted for one limit (`path`) and one occasion (`for_due`)."""

    path: str
    for_due: Point
    amount: Amount
    approved_by: str
    reason: str
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Season:
    """The icing season of a base."""

    begins: MonthDay
    ends: MonthDay | None = None

    @property
    def is_southern(self) -> bool:
        """A season that begins between February and July is a southern winter: begins 1 April is True."""
        return 2 <= self.begins.month <= 7


WARN_BEFORE: Mapping[Measure, int] = MappingProxyType({
    Measure.DAYS: 30, Measure.MONTHS: 30, Measure.DATE: 30, Measure.SEASON: 30,
    Measure.HOURS: 25 * 60, Measure.LANDINGS: 25, Measure.CYCLES: 25, Measure.USES: 5,
    Measure.FLIGHT_DAYS: 5, Measure.USE_MINUTES: 10,
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything known about one requirement on one aircraft or one component.

    `now` and `marks` are in the counters of the subject: a component's own hours for a component, so
    that they follow it from aircraft to aircraft. `last_due` is keyed by path ("1", "2.1").
    `use_per_day` (own units a day) only ranks limits of different kinds against each other. `warn` is
    used where a limit names no `soon`.
    """

    today: date
    now: Mark
    marks: Mapping[Since, Mark] = field(default_factory=dict)
    last_due: Mapping[str, LastDue] = field(default_factory=dict)
    variations: tuple[Variation, ...] = ()
    season: Season | None = None
    use_per_day: Mapping[str, Fraction] = field(default_factory=dict)
    warn: Mapping[Measure, int] = field(default_factory=lambda: WARN_BEFORE)


@dataclass(frozen=True, slots=True)
class LimitDue:
    """How one limit stands.

    `remaining` is in own units, days for calendar limits, negative when past. `origin` is the mark it
    runs from, `counted_from` the point the interval was added to (not always the mark: see Anchor),
    `amount` what was added. `allowed_to` is the last lawful point, with variation or overrun;
    `months_from` the anchor of a month count.
    """

    path: str
    limit: Limit
    status: DueStatus
    due_at: Point | None = None
    remaining: int | None = None
    words: str = ""
    origin: Mark | None = None
    origin_since: Since | None = None
    is_first_time: bool = False
    counted_from: Point | None = None
    amount: int | None = None
    now: Point | None = None
    allowed_to: Point | None = None
    variation: Variation | None = None
    months_from: date | None = None
    season_day: MonthDay | None = None


@dataclass(frozen=True, slots=True)
class NextDue:
    """Where one limit goes once the work is done; `late_by` is in own units or days, negative when early."""

    path: str
    limit: Limit
    was_due: Point | None
    done_at: Point | None
    next_due: Point | None
    late_by: int | None
    is_violation: bool
    words: str


@dataclass(frozen=True, slots=True)
class NextResult:
    """The new dues, whether doing it then broke a limit, and the facts as they stand afterwards."""

    limits: tuple[NextDue, ...]
    is_violation: bool
    facts: Facts


@dataclass(frozen=True, slots=True)
class DueResult:
    """How the whole requirement stands.

    `governing` is the path of the limit that decides. `due_day` is the day by the calendar limits
    alone; counters need a forecast. `last_lawful_day` is the same with variation and overrun.
    `explanation` says why, in sentences.
    """

    status: DueStatus
    governing: str
    limits: tuple[LimitDue, ...]
    due_day: date | None
    last_lawful_day: date | None
    rule: str
    if_done_now: tuple[NextDue, ...] = ()
    explanation: tuple[str, ...] = ()

    def limit(self, path: str) -> LimitDue:
        """The limit with this path: `result.limit(result.governing)`."""
        return next(due for due in self.limits if due.path == path)

    def as_last_due(self) -> dict[str, LastDue]:
        """What to keep when the work is done now, so that the next interval can be anchored on it."""
        return {
            due.path: LastDue(due.due_at, due.months_from, due.variation is not None)
            for due in self.limits
            if due.due_at is not None
        }
