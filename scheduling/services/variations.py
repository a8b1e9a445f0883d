"""Permitted variations: the approved table, and what the director grants from it, once, for one occasion."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason
from fleet.services.trail import note
from scheduling.due.terms import Amount, AmountUnit, LimitDue, Point
from scheduling.due.terms import Variation as Granted
from scheduling.due.variation import (
    VariationRequest,
    table_from_data,
    table_to_data,
)
from scheduling.due.variation import VariationTable as TableFacts
from scheduling.due.variation import grant_variation as judge_request
from scheduling.due.wording import amount_words, point_words
from scheduling.due.written import Faults, amount_from_data
from scheduling.gather.due import DueItem, due_items, point_to_data
from scheduling.gather.reckoned import reckon
from scheduling.models import Applicability, Variation, VariationTable
from scheduling.services.applicability import applicability_for_change
from scheduling.services.due_facts import reckon_items
from scheduling.services.due_tasks import lock_open_work, tell_open_work


@dataclass(frozen=True, slots=True)
class Grant:
    """What the director grants: one limit of one item, one amount ("10:00", 25, {"months": 1}), one reason."""

    applicability_id: int
    amount: Any
    reason: str
    path: str = ""
    reference: str = ""


@transaction.atomic
def write_table(*, actor: Actor, data: Mapping[str, Any], table_id: int | None = None) -> VariationTable:
    """Write an approved table: its bands, where its figures come from, who approved it. Refuses each fault by name."""
    require(actor, Verb.GRANT_VARIATION)
    table = table_from_data(data)
    row = VariationTable(operator_id=actor.operator_id)
    if table_id is not None:
        row = table_for(actor, table_id)
    row.name, row.source, row.approval = table.name[:80], table.source[:200], table.approval[:120]
    row.bands = table_to_data(table)["bands"]
    row.save()
    note(
        actor,
        "write_variation_table",
        "variation table",
        row.pk,
        f"{row.name}: {row.approval or 'no approval'}",
    )
    return row


def table_for(actor: Actor, table_id: int) -> VariationTable:
    """One table of the operator; a stranger's is not found."""
    row = VariationTable.objects.filter(pk=table_id, operator_id=actor.operator_id).first()
    if row is None:
        raise NotFound("variation_table_not_found", "There is no such table here.")
    return row


def table_facts(row: VariationTable | None) -> TableFacts | None:
    """A stored table as the engine reads it."""
    if row is None:
        return None
    return table_from_data(
        {"name": row.name, "source": row.source, "approval": row.approval, "bands": row.bands}
    )


@transaction.atomic
def grant_variation(*, actor: Actor, grant: Grant) -> Variation:
    """Grant a variation for the present due of one limit. Only the director may.

    Refuses what may never be varied, what the table does not allow, a second one for the same due, one after
    the limit has passed, and one without a reason.
    """
    require(actor, Verb.GRANT_VARIATION)
    row = applicability_for_change(actor, grant.applicability_id)
    item = due_items(Applicability.objects.filter(pk=row.pk))[0]
    due = _limit(item, grant.path)
    table = row.requirement.variation_table
    reference = grant.reference.strip() or (table.approval if table else "")
    request = VariationRequest(
        amount=_amount(due, grant.amount),
        approved_by=actor.name,
        reason=grant.reason.strip()[:300],
        reference=reference,
        protection=item.requirement.protection,
        design_cap=_design_cap(item, due),
    )
    granted = judge_request(due, request, table_facts(table))
    saved = _keep(actor, row, due, granted, reference)
    how_far = _how_far(due, granted.amount, granted.for_due)
    words = f"{item.requirement.title} on {item.subject}: {how_far}"
    note(actor, "grant_variation", "applicability", row.pk, words)
    reckon_items(Applicability.objects.filter(pk=row.pk))
    tell_open_work(
        row.pk, f"Variation of {how_far} by {actor.name}, this once ({reference}): {granted.reason}"
    )
    return saved


def _keep(actor: Actor, row: Applicability, due: LimitDue, granted: Granted, reference: str) -> Variation:
    assert actor.user_id is not None  # noqa: S101 - the policy never lets the system grant
    return Variation.objects.create(
        applicability=row,
        path=granted.path,
        for_due=point_to_data(granted.for_due),
        measure=due.limit.measure.value,
        amount=granted.amount.value,
        in_months=granted.amount.unit is AmountUnit.MONTHS,
        reason=granted.reason,
        authority=reference[:160],
        granted_by_id=actor.user_id,
        granted_at=now(),
    )


def _how_far(due: LimitDue, amount: Amount, for_due: Point) -> str:
    measure = due.limit.measure
    return f"{amount_words(measure, amount)} granted beyond {point_words(measure, for_due)}"


def _limit(item: DueItem, path: str) -> LimitDue:
    """The limit named, or the one that governs."""
    result = reckon(item).result
    wanted = path or result.governing
    for due in result.limits:
        if due.path == wanted:
            return due
    known = ", ".join(due.path for due in result.limits)
    reason = Reason("names no limit of this requirement", "path", wanted, f"use one of {known}")
    raise Invalid("bad_variation", reason.sentence(), reason)


def _amount(due: LimitDue, given: Any) -> Amount:
    faults = Faults()
    amount = amount_from_data(given, due.limit.measure, "amount", faults)
    faults.raise_if_any()
    assert amount is not None  # noqa: S101 - without an amount a fault was noted
    return amount


def _design_cap(item: DueItem, due: LimitDue) -> Amount | None:
    given = item.requirement.design_caps.get(due.path)
    return None if given is None else _amount(due, given)


@transaction.atomic
def withdraw_variation(*, actor: Actor, variation_id: int, reason: str) -> Variation:
    """Take a variation back before it was used, with a reason."""
    require(actor, Verb.GRANT_VARIATION)
    mine = Variation.objects.filter(applicability__requirement__operator_id=actor.operator_id)
    found = mine.filter(pk=variation_id).first()
    if found is None:
        raise NotFound("variation_not_found", "There is no such variation here.")
    lock_open_work([found.applicability_id])
    row = mine.select_for_update(of=("self",)).get(pk=variation_id)
    if row.used_at is not None or row.withdrawn_at is not None:
        raise Conflict("variation_over", "This variation was used up or withdrawn already.")
    if not reason.strip():
        missing = Reason("is missing", "reason", "", "say why it is taken back")
        raise Invalid("bad_variation", missing.sentence(), missing)
    row.withdrawn_at = now()
    row.save(update_fields=["withdrawn_at"])
    words = f"Variation withdrawn: {reason.strip()}"
    note(actor, "withdraw_variation", "applicability", row.applicability_id, words)
    reckon_items(Applicability.objects.filter(pk=row.applicability_id))
    tell_open_work(row.applicability_id, f"{words} ({actor.name})")
    return row
