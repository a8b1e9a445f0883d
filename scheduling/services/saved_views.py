"""Ways of looking at the due list that people keep."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.errors import Invalid, NotFound, Reason
from scheduling.models import SavedView
from scheduling.selectors.due_query import query_from

MOST_VIEWS = 50


@transaction.atomic
def keep_view(*, actor: Actor, name: str, query: Mapping[str, Any], is_shared: bool = False) -> SavedView:
    """Keep filters, sort and grouping under a name; the same name again replaces what it held."""
    require(actor, Verb.READ)
    given = name.strip()
    if not given or len(given) > 60:
        raise _wrong(
            given, "is missing" if not given else "is too long", "write a name of up to 60 characters"
        )
    kept = query_from(query).filters()
    mine = SavedView.objects.filter(operator_id=actor.operator_id, owner_id=actor.user_id)
    if mine.count() >= MOST_VIEWS and not mine.filter(name=given).exists():
        raise _wrong(
            given, f"would be your view number {MOST_VIEWS + 1}", "forget one you no longer use first"
        )
    row, _ = SavedView.objects.update_or_create(
        operator_id=actor.operator_id,
        owner_id=actor.user_id,
        name=given,
        defaults={"query": kept, "is_shared": is_shared},
    )
    return row


@transaction.atomic
def forget_view(*, actor: Actor, view_id: int) -> None:
    """Forget a view of one's own; somebody else's is not found."""
    require(actor, Verb.READ)
    gone, _ = SavedView.objects.filter(
        pk=view_id, operator_id=actor.operator_id, owner_id=actor.user_id
    ).delete()
    if not gone:
        raise NotFound("saved_view_not_found", "There is no such view of yours.")


def _wrong(value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, "name", value[:60], remedy)
    return Invalid("bad_view", reason.sentence(), reason)
