"""One mail a person and morning: what is new, and what still waits for an answer."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import IntegrityError, transaction
from django.db.models import Q

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.wording import counted, weekday
from fleet.models import Operator
from scheduling.due.quiet_hours import digest_day, not_before
from scheduling.gather.reminding import Reader, readers_of
from scheduling.models import Reminder, ReminderChoice

RANK = {"overdue": 0, "escalated": 0, "reached": 1, "before": 2}


def write_digests(*, actor: Actor) -> int:
    """Write the digest of everybody whose base has its morning by now; returns how many were written.

    One a person and local day. What was never in a digest makes a new one; without anything new there is none.
    """
    require(actor, Verb.READ)
    operator = Operator.objects.get(pk=actor.operator_id)
    count = 0
    for reader in readers_of(operator).of_all.values():
        if reader.by_mail == ReminderChoice.ByMail.DIGEST and reader.person.email:
            count += _digest_for(operator, reader)
    return count


def _digest_for(operator: Operator, reader: Reader) -> int:
    day = digest_day(reader.rest, now())
    if day is None:
        return 0
    key = f"digest:{operator.pk}:{reader.person.pk}:{day.isoformat()}"
    if Reminder.objects.filter(key=key).exists():
        return 0
    rows = _open_for(operator, reader)
    fresh = [row for row in rows if row.digest_id is None]
    if not fresh:
        return 0
    try:
        with transaction.atomic():
            digest = Reminder.objects.create(
                operator=operator,
                recipient=reader.person,
                channel=Reminder.Channel.MAIL,
                stage=Reminder.Stage.DIGEST,
                rung="digest",
                key=key,
                subject=_subject(operator, rows),
                words=_words(fresh, [row for row in rows if row.digest_id is not None]),
                send_after=not_before(reader.rest, now()),
                written_at=now(),
                detail={"day": day.isoformat(), "said": weekday(day)},
            )
            Reminder.objects.filter(pk__in=[row.pk for row in fresh]).update(digest=digest)
    except IntegrityError:
        # Another worker wrote this morning's digest in the same moment.
        return 0
    return 1


def _open_for(operator: Operator, reader: Reader) -> list[Reminder]:
    """What the person has not answered, worst first."""
    rows = Reminder.objects.filter(
        Q(snoozed_until=None) | Q(snoozed_until__lte=now()),
        operator=operator,
        recipient=reader.person,
        channel=Reminder.Channel.PRODUCT,
        acknowledged_at=None,
        settled_at=None,
    )
    return sorted(rows, key=lambda row: (RANK.get(row.stage, 3), row.subject, row.pk))


def _subject(operator: Operator, rows: Sequence[Reminder]) -> str:
    past = sum(1 for row in rows if row.stage in ("overdue", "escalated"))
    head = f"{counted(len(rows), 'reminder')}, {past} overdue" if past else counted(len(rows), "reminder")
    return f"{operator.name}: {head}"[:200]


def _words(fresh: Sequence[Reminder], known: Sequence[Reminder]) -> str:
    parts = ["New", *(f"- {row.words.splitlines()[0]}" for row in fresh)]
    if known:
        parts += ["", "Still without an answer", *(f"- {row.subject}" for row in known)]
    parts += ["", "Acknowledge or put off each of them on the page Reminders."]
    return "\n".join(parts)
