"""What the scene's operator must do and why: requirements with their items, relief, procedures, rules."""

from __future__ import annotations

from datetime import date
from typing import Any

from fleet.common.actor import Role
from fleet.models import Aircraft
from scheduling.models import FlyingPlan, Procedure, ProcedureVersion, SavedView, TriggerRule, VariationTable
from scheduling.services.due import refresh_due
from scheduling.services.variations import Grant, grant_variation
from tests.doors.scene import BANDS, Scene
from tests.makers import NOON
from tests.records.makers import PURGE
from tests.scheduling.due.makers import apply, make_requirement
from tests.scheduling.makers import make_relief


def add_requirements(scene: Scene) -> None:
    """One line with a table of variations, one whose item was varied, and one that is late at another aircraft."""
    things, house = scene.things, scene.house
    operator = house.operator
    table = things["table"] = VariationTable.objects.create(
        operator=operator, name="OURS bands", bands=BANDS, source="OURS manual", approval="OURS approval"
    )
    hundred = make_requirement(operator, "ours-check", title="OURS check", variation_table=table)
    things["item"] = apply(hundred, scene.aircraft, day=date(2025, 3, 1), hours=59_000)
    other = make_requirement(operator, "ours-other", title="OURS other", variation_table=table)
    varied = apply(other, scene.aircraft, day=date(2025, 3, 1), hours=59_000)
    purge = Procedure.objects.get(operator=operator, code="panel-purge")
    late = make_requirement(operator, "ours-late", title="OURS late", procedure=purge)
    apply(late, Aircraft.objects.get(registration="QX-OURT"), day=date(2024, 1, 1), hours=50_000)
    refresh_due()
    things["variation"] = grant_variation(
        actor=house.actor(Role.DIRECTOR), grant=Grant(varied.pk, "2:00", "OURS reason")
    )


def add_relief_and_views(scene: Scene) -> None:
    """Relief that runs, a plan of flying, a view everybody shares."""
    things, director = scene.things, scene.person(Role.DIRECTOR)
    things["relief"] = make_relief(scene.aircraft, director, item="OURS-30-1")
    things["flying_plan"] = FlyingPlan.objects.create(
        aircraft=scene.aircraft,
        from_day=date(2025, 4, 1),
        to_day=date(2025, 4, 30),
        minutes_per_day=120,
        landings_per_day="2",
        note="OURS spring",
    )
    things["view"] = SavedView.objects.create(
        operator=scene.house.operator, owner=director, name="OURS view", is_shared=True
    )


def add_procedure(scene: Scene) -> None:
    """A procedure in force with the draft of its next version."""
    drafted = Procedure.objects.create(
        operator=scene.house.operator, code="ours-drafted", title="OURS drafted"
    )
    usual: dict[str, Any] = {
        "procedure": drafted,
        "content": PURGE,
        "approved_reference": "OURS 30-1",
        "approved_revision": "1",
        "ata": "30-10",
        "consequence": "icing",
        "minutes": 30,
        "written_at": NOON,
    }
    ProcedureVersion.objects.create(**usual, number=1, state="current")
    ProcedureVersion.objects.create(**usual, number=2, state="draft", change_note="OURS change")


def add_rule(scene: Scene) -> None:
    """A rule that is off."""
    model = TriggerRule.objects.get(operator=scene.house.operator, code="after-line-opened")
    scene.things["rule_off"] = TriggerRule.objects.create(
        operator=scene.house.operator,
        code="ours-off",
        event_kind=model.event_kind,
        title="OURS rule",
        content=model.content,
        source="OURS",
        is_enabled=False,
        written_at=NOON,
    )
