"""Reads about the programme: its lines, where they apply, what was never recorded, tables, relief and plans."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from scheduling.due.engine import paths_of
from scheduling.due.explain import rule_words
from scheduling.due.parse import limits_from_data
from scheduling.due.relief import ReliefState
from scheduling.due.terms import Since
from scheduling.due.variation import NEVER
from scheduling.gather.due import due_items, protection_of
from scheduling.gather.relief import relief_states
from scheduling.models import (
    Applicability,
    FlyingPlan,
    Relief,
    ReliefCategory,
    Requirement,
    SavedView,
    Variation,
    VariationTable,
)


def requirements(actor: Actor, *, q: str = "", ata: str = "", retired: bool = False) -> QuerySet[Requirement]:
    """The lines in force, each with `applied`, on how many aircraft or components; retired ones when asked for."""
    rows = Requirement.objects.filter(operator_id=actor.operator_id, is_current=True)
    rows = rows.filter(retired_on__isnull=not retired)
    if q:
        rows = rows.filter(Q(code__icontains=q) | Q(title__icontains=q) | Q(source__icontains=q))
    if ata:
        rows = rows.filter(Q(ata=ata) | Q(ata__startswith=f"{ata}-"))
    # one line at a time: together with the lines' own columns the database would sort every item by all of them
    items = Applicability.objects.filter(requirement=OuterRef("pk"), is_active=True).order_by()
    active = Coalesce(Subquery(items.values("requirement").annotate(n=Count("pk")).values("n")), 0)
    related = ("aircraft_type", "component_kind", "procedure", "event_kind", "variation_table")
    return rows.select_related(*related).annotate(applied=active).order_by("ata", "code")


def requirement_for(actor: Actor, code: str) -> Requirement:
    """The current version of a line, retired or not; a stranger's is not found."""
    row = (
        Requirement.objects.filter(operator_id=actor.operator_id, code=code, is_current=True)
        .select_related(
            "aircraft_type", "component_kind", "procedure", "event_kind", "variation_table", "written_by"
        )
        .first()
    )
    if row is None:
        raise NotFound("requirement_not_found", f"There is no requirement {code} here.")
    return row


def requirement_versions(actor: Actor, code: str) -> QuerySet[Requirement]:
    """Every version of a line, newest first."""
    rows = Requirement.objects.filter(operator_id=actor.operator_id, code=code)
    return rows.select_related(
        "aircraft_type", "component_kind", "procedure", "event_kind", "written_by"
    ).order_by("-version")


def limits_words(row: Requirement) -> str:
    """The limits of a line in words, as every due explains them."""
    return rule_words(limits_from_data(row.limits))


def protection_words(row: Requirement) -> str:
    """Why a line may never be varied; empty where the table decides."""
    never = NEVER.get(protection_of(row), "")
    return f"It {never}: no variation is ever granted." if never else ""


def applied_ids(actor: Actor, code: str) -> list[int]:
    """The items of one line, by aircraft."""
    rows = Applicability.objects.filter(
        requirement__operator_id=actor.operator_id,
        requirement__code=code,
        requirement__is_current=True,
        is_active=True,
    )
    return list(rows.order_by("aircraft__registration", "component_id", "pk").values_list("pk", flat=True))


@dataclass(frozen=True, slots=True)
class Unrecorded:
    """An item without a last-done; `is_needed`: a limit counts from it and nothing else starts it."""

    id: int
    code: str
    title: str
    subject: str
    registration: str
    is_needed: bool


def without_last_done(actor: Actor) -> list[Unrecorded]:
    """Every item that follows a limit since last done and has none recorded, those that need one first."""
    rows = Applicability.objects.filter(
        requirement__operator_id=actor.operator_id, is_active=True, last_done={}
    )
    found = []
    for item in due_items(rows):
        limits = [limit for _, limit in paths_of(item.requirement.limits) if limit.since is Since.LAST_DONE]
        if limits:
            is_needed = (
                any(limit.first_since not in item.facts.marks for limit in limits) or not item.facts.marks
            )
            found.append(
                Unrecorded(
                    item.id,
                    item.requirement.code,
                    item.requirement.title,
                    item.subject,
                    item.aircraft.registration if item.aircraft else "",
                    is_needed,
                )
            )
    return sorted(found, key=lambda one: (not one.is_needed, one.registration, one.code, one.id))


def saved_views(actor: Actor) -> QuerySet[SavedView]:
    """One's own views of the due list, and those colleagues share."""
    rows = SavedView.objects.filter(operator_id=actor.operator_id)
    return rows.filter(Q(owner_id=actor.user_id) | Q(is_shared=True)).select_related("owner")


def variation_tables(actor: Actor) -> QuerySet[VariationTable]:
    """The operator's tables of permitted variations."""
    return VariationTable.objects.filter(operator_id=actor.operator_id).order_by("name", "id")


def variations(actor: Actor, *, is_open: bool = True) -> QuerySet[Variation]:
    """Variations granted, newest first; only those not used or withdrawn unless asked otherwise."""
    rows = Variation.objects.filter(applicability__requirement__operator_id=actor.operator_id)
    if is_open:
        rows = rows.filter(used_at=None, withdrawn_at=None)
    related = (
        "granted_by",
        "applicability__requirement",
        "applicability__aircraft",
        "applicability__component__kind",
    )
    return rows.select_related(*related).order_by("-granted_at", "-id")


@dataclass(frozen=True, slots=True)
class ReliefRow:
    """One relief and how its clock stands."""

    relief: Relief
    state: ReliefState | None


def reliefs(actor: Actor, *, is_open: bool = True) -> list[ReliefRow]:
    """Relief on the operator's aircraft, soonest end first; closed ones, newest first, when asked for."""
    rows = Relief.objects.filter(aircraft__operator_id=actor.operator_id, closed_at__isnull=is_open)
    rows = rows.select_related("aircraft__operator", "category", "granted_by")
    listed = list(rows.order_by("ends_at", "id") if is_open else rows.order_by("-closed_at", "-id")[:200])
    states = relief_states(listed) if is_open else {}
    return [ReliefRow(row, states.get(row.pk)) for row in listed]


def relief_for(actor: Actor, relief_id: int) -> ReliefRow:
    """One relief; a stranger's is not found."""
    row = (
        Relief.objects.filter(pk=relief_id, aircraft__operator_id=actor.operator_id)
        .select_related("aircraft__operator", "category", "granted_by")
        .first()
    )
    if row is None:
        raise NotFound("relief_not_found", "There is no such relief here.")
    return ReliefRow(row, relief_states([row])[row.pk] if row.closed_at is None else None)


def relief_categories(actor: Actor) -> QuerySet[ReliefCategory]:
    """The repair categories of the operator's approved list."""
    return ReliefCategory.objects.filter(operator_id=actor.operator_id)


def flying_plans(
    actor: Actor, aircraft_ids: Iterable[int] | None = None, since: date | None = None
) -> QuerySet[FlyingPlan]:
    """What is planned to be flown, from a day on."""
    rows = FlyingPlan.objects.filter(aircraft__operator_id=actor.operator_id).select_related(
        "aircraft", "entered_by"
    )
    if aircraft_ids is not None:
        rows = rows.filter(aircraft_id__in=list(aircraft_ids))
    return rows.filter(to_day__gte=since) if since else rows
