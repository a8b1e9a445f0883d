"""Tables of the scheduling room; the only place that re-exports."""

from scheduling.models.events import Event, EventKind, TriggerRule
from scheduling.models.plans import Bay, GroundTime, Shift, Slot, WeekPlan
from scheduling.models.procedures import Consequence, Procedure, ProcedureVersion
from scheduling.models.reminders import (
    CalendarEntry,
    CalendarLink,
    Reminder,
    ReminderChoice,
    ReminderLadder,
    WebhookEndpoint,
)
from scheduling.models.requirements import (
    AircraftUse,
    Applicability,
    DueFact,
    FlyingPlan,
    Requirement,
    SavedView,
    TypeUse,
    Variation,
    VariationTable,
)
from scheduling.models.tasks import (
    OPEN_STATES,
    Before,
    Relief,
    ReliefCategory,
    Task,
    TaskCause,
    TaskState,
    TaskWait,
)

__all__ = [
    "OPEN_STATES",
    "AircraftUse",
    "Applicability",
    "Bay",
    "Before",
    "CalendarEntry",
    "CalendarLink",
    "Consequence",
    "DueFact",
    "Event",
    "EventKind",
    "FlyingPlan",
    "GroundTime",
    "Procedure",
    "ProcedureVersion",
    "Relief",
    "ReliefCategory",
    "Reminder",
    "ReminderChoice",
    "ReminderLadder",
    "Requirement",
    "SavedView",
    "Shift",
    "Slot",
    "Task",
    "TaskCause",
    "TaskState",
    "TaskWait",
    "TriggerRule",
    "TypeUse",
    "Variation",
    "VariationTable",
    "WebhookEndpoint",
    "WeekPlan",
]
