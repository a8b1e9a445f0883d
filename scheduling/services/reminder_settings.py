"""How people want mail, and the operator's own ladders."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.errors import Invalid, NotAllowed, Reason
from fleet.services.trail import note
from scheduling.due.ladder import ladder_from_data
from scheduling.models import Consequence, ReminderChoice, ReminderLadder


@transaction.atomic
def choose_mail(*, actor: Actor, by_mail: str) -> ReminderChoice:
    """How the actor wants mail. Refuses a word that is not offered."""
    if by_mail not in ReminderChoice.ByMail.values:
        offered = ", ".join(ReminderChoice.ByMail.values)
        reason = Reason("is not offered", "by_mail", by_mail[:20], f"use one of {offered}")
        raise Invalid("bad_choice", reason.sentence(), reason)
    if actor.user_id is None:
        raise NotAllowed("no_person", "Only people choose how they get mail.")
    row, _ = ReminderChoice.objects.update_or_create(
        operator_id=actor.operator_id, person_id=actor.user_id, defaults={"by_mail": by_mail}
    )
    note(actor, "choose_mail", "person", actor.user_id, f"{actor.name}: {row.get_by_mail_display()}")
    return row


@transaction.atomic
def set_ladder(*, actor: Actor, consequence: str, steps: Mapping[str, Any] | None) -> ReminderLadder | None:
    """Write the operator's own ladder for a consequence; None goes back to the usual one.

    Refuses (`bad_ladder`) steps that make no sense, naming each field.
    """
    require(actor, Verb.EDIT_PROGRAMME)
    if consequence not in Consequence.values:
        remedy = f"use one of {', '.join(Consequence.values)}"
        reason = Reason("is not known", "consequence", consequence[:20], remedy)
        raise Invalid("bad_ladder", reason.sentence(), reason)
    rows = ReminderLadder.objects.select_for_update().filter(
        operator_id=actor.operator_id, consequence=consequence
    )
    label = str(Consequence(consequence).label)
    if steps is None:
        rows.delete()
        note(actor, "set_ladder", "ladder", consequence, f"The usual reminder steps for: {label}")
        return None
    ladder_from_data(steps)
    row = rows.first() or ReminderLadder(operator_id=actor.operator_id, consequence=consequence, version=0)
    row.steps, row.version = dict(steps), row.version + 1
    row.save()
    note(actor, "set_ladder", "ladder", consequence, f"Reminder steps for: {label}", dict(steps))
    return row
