"""What is done and when: kinds of event, procedures, trigger rules, permitted variation, relief categories."""

from __future__ import annotations

from typing import Any

from django.conf import settings

from fleet.common.clock import frozen
from records.management.demo.scenario import Scenario, written
from scheduling.models import Applicability, EventKind, Requirement, VariationTable
from scheduling.services.applicability import apply_requirement, subjects_of
from scheduling.services.procedures import Draft, publish_version, save_draft
from scheduling.services.relief import write_category
from scheduling.services.requirements import WrittenRequirement, write_requirement
from scheduling.services.rules import RuleText, write_rule


def write_programme(scenario: Scenario) -> None:
    """Everything that says what work there is, written by the controller on the day the books begin."""
    EventKind.objects.bulk_create(
        EventKind(operator=scenario.operator, **row) for row in written("demo/event_kinds.json")
    )
    with frozen(scenario.opened):
        for path in sorted((settings.ROOT / "fixtures" / "demo" / "procedures").glob("*.json")):
            _publish(scenario, written(f"demo/procedures/{path.name}"))
        for row in written("demo/trigger_rules.json"):
            write_rule(actor=scenario.actor("edda"), text=RuleText(**row))
        _write_requirements(scenario, _write_allowances(scenario))


def _publish(scenario: Scenario, row: dict[str, Any]) -> None:
    actor = scenario.actor("edda")
    save_draft(actor=actor, draft=Draft(**row, change_note="carried over from the paper manual"))
    publish_version(actor=actor, code=row["code"])


def _write_allowances(scenario: Scenario) -> VariationTable:
    table = VariationTable.objects.create(
        operator=scenario.operator, **written("rules/permitted_variations.json")
    )
    for row in written("rules/relief_categories.json"):
        write_category(
            actor=scenario.actor("marit"), code=row["code"], days=row["amount"], source=row["source"]
        )
    return table


def _write_requirements(scenario: Scenario, table: VariationTable) -> None:
    actor = scenario.actor("edda")
    for row in written("demo/requirements.json"):
        fixed = row.get("is_airworthiness_limitation") or row.get("is_directive")
        variation_table_id = None if fixed else table.pk
        line = write_requirement(
            actor=actor, wanted=WrittenRequirement(**row, variation_table_id=variation_table_id)
        )
        if line.component_kind_id:
            apply_requirement(actor=actor, code=line.code)
        else:
            _put_on_aircraft(line)


def _put_on_aircraft(line: Requirement) -> None:
    """Their last done follows with the past, which is written later."""
    Applicability.objects.bulk_create(
        Applicability(requirement=line, code=line.code, aircraft_id=pk)
        for pk in subjects_of(line).values_list("pk", flat=True)
    )
