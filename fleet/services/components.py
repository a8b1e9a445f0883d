"""What happens to a component besides being fitted: its papers, its life limits, its disposition, its end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day
from fleet.common.errors import Conflict, NotFound, check_version, wrong
from fleet.models import Component, ComponentKind, Installation, LifeLimit
from fleet.selectors.aircraft import component_for
from fleet.services.trail import note


@dataclass(frozen=True, slots=True)
class LifeLimitEntry:
    """The most life a part may have; an empty part number means every part of the kind. Hours are minutes."""

    kind_code: str
    parameter: str
    limit: int
    source: str
    part_number: str = ""


@transaction.atomic
def change_component(
    *,
    actor: Actor,
    component_id: int,
    manufactured_on: date | None,
    release_document: str,
    version: int | None,
) -> Component:
    """Put a component's papers right. Refuses a stale copy; numbers and opening totals never change."""
    require(actor, Verb.EDIT_FLEET)
    component = _locked(actor, component_id)
    check_version(component.version, version)
    component.manufactured_on = manufactured_on
    component.release_document = release_document.strip()[:80]
    component.version += 1
    component.save()
    note(actor, "change_component", "component", component.pk, f"Papers of {component} changed")
    return component


@transaction.atomic
def scrap_component(*, actor: Actor, component_id: int, reason: str) -> Component:
    """Take a component out of use for good. Refuses one that is fitted, and one without a reason."""
    require(actor, Verb.EDIT_FLEET)
    component = _locked(actor, component_id)
    if not reason.strip():
        raise wrong("reason", "", "is missing", "say why it is scrapped")
    if component.scrapped_on is not None:
        raise Conflict("component_scrapped", f"{component} was scrapped on {component.scrapped_on}.")
    if component.installations.filter(removed_at=None).exists():
        raise Conflict("component_fitted", f"{component} is fitted; report it removed first.")
    _scrap(component)
    note(actor, "scrap_component", "component", component.pk, f"{component} scrapped: {reason.strip()}")
    return component


@transaction.atomic
def record_disposition(
    *, actor: Actor, installation_id: int, method: str, words: str, version: int | None = None
) -> Installation:
    """Say how a removed part is kept from being fitted beyond its life (14 CFR 43.10(c)(1)).

    Refuses a part that is still fitted, an unknown method, and `other` without words. Mutilation scraps the part.
    """
    require(actor, Verb.REPORT_EVENT)
    rows = Installation.objects.filter(aircraft__operator_id=actor.operator_id).select_related(
        "aircraft__base", "component__kind"
    )
    row = rows.filter(pk=installation_id).first()
    if row is None:
        raise NotFound("installation_not_found", "There is no such installation here.")
    component = _locked(actor, row.component_id)
    check_version(component.version, version)
    _check_disposition(row, method, words)
    row.disposition, row.disposition_note = method, words.strip()[:200]
    row.disposed_on, row.disposed_by_id = local_day(row.aircraft.base.zone), actor.user_id
    row.save()
    if method == Installation.Disposition.MUTILATION and component.scrapped_on is None:
        _scrap(component)
    said = f"Disposition of {row.component}: {row.get_disposition_display()}"
    note(actor, "record_disposition", "component", row.component_id, said, {"installation": row.pk})
    return row


def _check_disposition(row: Installation, method: str, words: str) -> None:
    if method not in Installation.Disposition.values:
        allowed = ", ".join(Installation.Disposition.values)
        raise wrong("method", method, "is no method of disposition", f"use one of: {allowed}")
    if row.removed_at is None:
        raise Conflict("component_fitted", f"{row.component} is still fitted; report it removed first.")
    if method == Installation.Disposition.OTHER and not words.strip():
        raise wrong("words", "", "is missing", "describe the method the authority accepted")
    if Installation.objects.filter(component_id=row.component_id, fitted_at__gte=row.removed_at).exists():
        raise Conflict("component_fitted_again", f"{row.component} was fitted again since that removal.")


@transaction.atomic
def set_life_limit(*, actor: Actor, entry: LifeLimitEntry) -> LifeLimit:
    """Enter or change a life limit. Refuses a limit of nothing, and one without the approved data it comes from."""
    require(actor, Verb.EDIT_PROGRAMME)
    kind = ComponentKind.objects.filter(operator_id=actor.operator_id, code=entry.kind_code).first()
    if kind is None:
        raise wrong("kind", entry.kind_code, "is no kind of component here", "choose one of the kinds listed")
    if entry.parameter not in LifeLimit.Parameter.values:
        allowed = ", ".join(LifeLimit.Parameter.values)
        raise wrong("parameter", entry.parameter, "is no parameter", f"use one of: {allowed}")
    if entry.limit < 1:
        raise wrong("limit", entry.limit, "must be above zero", "enter the limit of the approved data")
    if not entry.source.strip():
        raise wrong("source", "", "is missing", "name the approved data and its revision")
    limit, _ = LifeLimit.objects.update_or_create(
        operator_id=actor.operator_id,
        kind=kind,
        part_number=entry.part_number.strip(),
        parameter=entry.parameter,
        defaults={"limit": entry.limit, "source": entry.source.strip()},
    )
    said = f"Life of {kind.name} {limit.part_number}: {limit.limit} {limit.get_parameter_display()}"
    note(actor, "set_life_limit", "life_limit", limit.pk, f"{said} ({limit.source})")
    return limit


@transaction.atomic
def drop_life_limit(*, actor: Actor, limit_id: int, reason: str) -> None:
    """Take a life limit away again. Refuses without a reason."""
    require(actor, Verb.EDIT_PROGRAMME)
    limit = (
        LifeLimit.objects.filter(pk=limit_id, operator_id=actor.operator_id).select_related("kind").first()
    )
    if limit is None:
        raise NotFound("life_limit_not_found", "There is no such life limit here.")
    if not reason.strip():
        raise wrong("reason", "", "is missing", "say why the limit no longer holds")
    said = f"Life of {limit.kind.name} {limit.part_number}: {limit} no longer holds: {reason.strip()}"
    limit.delete()
    note(actor, "drop_life_limit", "life_limit", limit_id, said)


def _locked(actor: Actor, component_id: int) -> Component:
    component_for(actor, component_id)
    rows = Component.objects.select_for_update(of=("self",)).select_related("kind")
    return rows.get(pk=component_id)


def _scrap(component: Component) -> None:
    last = component.installations.select_related("aircraft__base").order_by("-fitted_at").first()
    component.scrapped_on = local_day(last.aircraft.base.zone if last else "UTC")
    component.version += 1
    component.save()
