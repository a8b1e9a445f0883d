"""Made-up programme for the due tests: requirements, where they apply, and when they were last done."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from fleet.models import Aircraft, Component, Operator
from scheduling.due.terms import Mark
from scheduling.gather.due import mark_to_data
from scheduling.models import Applicability, Procedure, ProcedureVersion, Requirement, Task
from tests.makers import NOON

HUNDRED_HOURS = {"measure": "hours", "every": "100:00", "anchor": "from_due", "soon": "10:00"}
CARDS = {"key": "cards", "kind": "check", "title": "Cards worked", "text": "All of them."}
TWELVE_MONTHS = {"measure": "months", "every": 12}
TABLE = {
    "name": "Light schedule",
    "source": "Programme appendix 2",
    "approval": "PV-17",
    "bands": [{"measure": "hours", "up_to": "5000:00", "percent": "10"}],
}


def first_of(*limits: dict[str, Any]) -> dict[str, Any]:
    return {"combine": "first", "of": list(limits)}


def last_of(*limits: dict[str, Any]) -> dict[str, Any]:
    return {"combine": "last", "of": list(limits)}


def make_requirement(operator: Operator, code: str = "check-100", **values: Any) -> Requirement:
    usual: dict[str, Any] = {
        "title": "100-hour check",
        "ata": "05-20",
        "limits": HUNDRED_HOURS,
        "source": "Programme rev 3",
        "written_at": NOON,
    }
    return Requirement.objects.create(operator=operator, code=code, **usual | values)


def apply(requirement: Requirement, subject: Aircraft | Component, **done: Any) -> Applicability:
    """The requirement on an aircraft or a component; `day` and counters (`hours` in minutes) say when it was done."""
    place = {"aircraft": subject} if isinstance(subject, Aircraft) else {"component": subject}
    day: date | None = done.pop("day", None)
    proof = done.pop("proof", "")
    last_due = done.pop("last_due", {})
    mark = Mark(day, done)
    return Applicability.objects.create(
        requirement=requirement,
        code=requirement.code,
        done_on=day,
        last_done=mark_to_data(mark) if day or done else {},
        last_due=last_due,
        proof=proof,
        **place,
    )


def make_procedure(operator: Operator, code: str = "panel-purge") -> Procedure:
    procedure = Procedure.objects.create(
        operator=operator, code=code, title=code.replace("-", " ").capitalize()
    )
    ProcedureVersion.objects.create(
        procedure=procedure,
        number=1,
        state="current",
        content={"purpose": "test", "steps": [CARDS]},
        approved_reference="AMM",
        approved_revision="1",
        ata="30-11",
        consequence="icing",
        minutes=60,
        written_at=NOON,
    )
    return procedure


def make_task(aircraft: Aircraft, procedure: Procedure, raised_at: datetime = NOON, **values: Any) -> Task:
    return Task.objects.create(
        operator=aircraft.operator,
        aircraft=aircraft,
        procedure=procedure,
        title=procedure.title,
        consequence="icing",
        raised_at=raised_at,
        **values,
    )
