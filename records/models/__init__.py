"""Tables of the records room; the only place that re-exports."""

from records.models.runs import (
    BenchRun,
    EquipmentUse,
    HandOver,
    LotUse,
    Measurement,
    Photo,
    RunState,
    StepAnswer,
)
from records.models.signed import Signature, SignedRecord
from records.models.trends import TrendState

__all__ = [
    "BenchRun",
    "EquipmentUse",
    "HandOver",
    "LotUse",
    "Measurement",
    "Photo",
    "RunState",
    "Signature",
    "SignedRecord",
    "StepAnswer",
    "TrendState",
]
