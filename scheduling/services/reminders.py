"""Reminders written once by key, settled when the matter moves on, acknowledged, snoozed, escalated."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import BigIntegerField, Q, QuerySet

from fleet.common.actor import Actor, Role, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason
from fleet.models import Operator
from fleet.services.trail import note
from scheduling.due.ladder import Rung, rung_of
from scheduling.due.quiet_hours import not_before
from scheduling.due.wording import place_words, point_words, size_words
from scheduling.gather.reminding import Matter, Reader, Readers, matters_of, readers_of
from scheduling.models import Consequence, Reminder, ReminderChoice, WebhookEndpoint

LONGEST_SNOOZE = timedelta(days=30)
ESCALATED = ":escalated"
RANK = {"before": 0, "reached": 1, "overdue": 2, "escalated": 3}


@dataclass(frozen=True, slots=True)
class Written:
    """What one look at the operator's matters left behind."""

    written: int
    settled: int


@transaction.atomic
def write_due_reminders(*, actor: Actor) -> Written:
    """Write what now stands on a step and was not told yet; settle what has moved on. Doing it twice adds nothing.

    A look after days without any writes one reminder a matter: the step that stands now.
    """
    require(actor, Verb.READ)
    operator = Operator.objects.get(pk=actor.operator_id)
    open_rows = _open_rows(operator.pk)
    also = set(open_rows.exclude(applicability=None).values_list("applicability_id", flat=True))
    matters = matters_of(operator, also)
    rungs = [(matter, rung_of(matter.ladder, matter.standings, matter.today)) for matter in matters]
    standing = {f"{matter.name}:{rung.key}" for matter, rung in rungs if rung is not None}
    settled = _settle(open_rows, standing)
    readers = readers_of(operator)
    endpoints = list(WebhookEndpoint.objects.filter(operator=operator, is_enabled=True))
    rows = [
        row
        for matter, rung in rungs
        if rung is not None
        for row in _rows_of(operator.pk, _Told(matter, rung, readers, endpoints))
    ]
    return Written(_write(operator.pk, rows), settled)


def _open_rows(operator_id: int) -> QuerySet[Reminder]:
    """Reminders of matters that may still stand."""
    return Reminder.objects.filter(operator_id=operator_id, settled_at=None, acknowledged_at=None).exclude(
        matter=""
    )


def _settle(open_rows: QuerySet[Reminder], standing: set[str]) -> int:
    """Take back what no longer stands: from inboxes, and from what was not sent yet."""
    gone = [
        pk
        for pk, matter in open_rows.values_list("pk", "matter")
        if matter.removesuffix(ESCALATED) not in standing
    ]
    return Reminder.objects.filter(pk__in=gone, settled_at=None).update(settled_at=now())


@dataclass(frozen=True, slots=True)
class _Told:
    """One matter on its step, and who might be told."""

    matter: Matter
    rung: Rung
    readers: Readers
    endpoints: list[WebhookEndpoint]

    @property
    def key(self) -> str:
        return f"{self.matter.name}:{self.rung.key}"


def _rows_of(operator_id: int, told: _Told) -> list[Reminder]:
    """One row a person in the product, one by mail where wanted at once, one a webhook; not yet saved."""
    matter, rung, ladder = told.matter, told.rung, told.matter.ladder
    roles = ladder.overdue_to if rung.stage.value == "overdue" else ladder.to
    readers = told.readers.told(roles, matter.base_id, matter.assigned_id)
    usual = _content(operator_id, matter, rung) | {"matter": told.key}
    rows = []
    for reader in readers:
        rows.append(_in_product(usual, told, reader))
        if reader.by_mail == ReminderChoice.ByMail.AT_ONCE:
            rows.append(by_mail(usual, reader))
    rows += [
        Reminder(
            **usual, endpoint=one, channel="webhook", key=f"{told.key}:endpoint-{one.pk}", send_after=now()
        )
        for one in told.endpoints
    ]
    return rows


def _in_product(usual: Mapping[str, Any], told: _Told, reader: Reader) -> Reminder:
    hours = told.matter.ladder.acknowledge_within_hours
    answer_by = not_before(reader.rest, now()) + timedelta(hours=hours) if hours else None
    return Reminder(
        **usual,
        recipient=reader.person,
        channel="product",
        key=f"{told.key}:person-{reader.person.pk}",
        send_after=now(),
        sent_at=now(),
        acknowledge_by=answer_by if told.rung.must_acknowledge else None,
    )


def by_mail(usual: Mapping[str, Any], reader: Reader) -> Reminder:
    """The row for a mail of its own, held back over quiet hours."""
    key = f"{usual['matter']}:mail-{reader.person.pk}"
    send_after = not_before(reader.rest, now())
    return Reminder(**usual, recipient=reader.person, channel="mail", key=key, send_after=send_after)


def _content(operator_id: int, matter: Matter, rung: Rung) -> dict[str, Any]:
    """What every row about a step says, to people and to programs."""
    due = rung.standing.measure, rung.standing.due_at
    left = rung.standing.remaining
    how = f"{size_words(rung.standing.measure, abs(left))} {'left' if left >= 0 else 'past'}"
    state = {"before": "due", "reached": "due now,", "overdue": "OVERDUE, was due"}[rung.stage.value]
    subject = f"{matter.subject}: {matter.title} {state} {place_words(*due)}"
    stops = f"When overdue it stops: {Consequence(matter.consequence).label}."
    lines = [f"{subject}; {how}.", *matter.words, stops]
    return {
        "operator_id": operator_id,
        "applicability_id": matter.applicability_id,
        "task_id": matter.task_id,
        "stage": rung.stage.value,
        "rung": rung.name,
        "subject": subject[:200],
        "words": "\n".join(dict.fromkeys(lines)),
        "written_at": now(),
        "detail": {
            "item": matter.applicability_id,
            "task": matter.task_id,
            "subject": matter.subject,
            "title": matter.title,
            "consequence": matter.consequence,
            "stage": rung.stage.value,
            "step": rung.words,
            "due": point_words(*due),
            "left": how,
        },
    }


def _write(operator_id: int, rows: list[Reminder]) -> int:
    """Save the rows whose key is new and whose reader did not put the item off; returns how many."""
    keys = [row.key for row in rows]
    known = set(Reminder.objects.filter(key__in=keys).values_list("key", flat=True))
    put_off = _put_off(operator_id)
    fresh = [
        row
        for row in {row.key: row for row in rows}.values()
        if row.key not in known and not _is_put_off(row, put_off)
    ]
    Reminder.objects.bulk_create(fresh, ignore_conflicts=True, batch_size=500)
    return len(fresh)


Item = tuple[int | None, int | None, int | None]


def _put_off(operator_id: int) -> dict[Item, int]:
    """How far the items had come when somebody put them off until later than now."""
    rows = Reminder.objects.filter(operator_id=operator_id, snoozed_until__gt=now())
    found: dict[Item, int] = {}
    for person, item, task, stage in rows.values_list("recipient_id", "applicability_id", "task_id", "stage"):
        key = (person, item, None if item else task)
        found[key] = max(found.get(key, 0), RANK.get(stage, 0))
    return found


def _is_put_off(row: Reminder, put_off: Mapping[Item, int]) -> bool:
    """Put off, unless the matter has become worse than it was then."""
    item = row.applicability_id
    stage = put_off.get((row.recipient_id, item, None if item else row.task_id))
    return stage is not None and RANK[row.stage] <= stage


@transaction.atomic
def acknowledge(*, actor: Actor, reminder_ids: Iterable[int]) -> int:
    """The actor has taken note of these reminders of their own; nobody need be told that they did not.

    A stranger's reminder is not found. Acknowledging twice changes nothing.
    """
    rows = _own(actor, reminder_ids)
    fresh = [row for row in rows if row.acknowledged_at is None]
    Reminder.objects.filter(pk__in=[row.pk for row in fresh]).update(acknowledged_at=now())
    _answered(actor, {row.matter for row in fresh})
    for row in fresh:
        note(actor, "acknowledge_reminder", "reminder", row.pk, f"{row.subject}: acknowledged")
    return len(fresh)


@transaction.atomic
def snooze(*, actor: Actor, reminder_id: int, until: datetime, reason: str) -> Reminder:
    """Put a reminder of one's own off, with a reason. It comes back then, or earlier if the matter gets worse.

    Refuses a moment that is past or more than 30 days off, an empty reason, and what was acknowledged.
    """
    row = _own(actor, [reminder_id])[0]
    reasons = []
    if not reason.strip():
        reasons.append(Reason("is missing", "reason", "", "say why it can wait"))
    if not now() < until <= now() + LONGEST_SNOOZE:
        remedy = "choose a moment within the next 30 days"
        reasons.append(Reason("is past or too far off", "until", until.isoformat(), remedy))
    if reasons:
        raise Invalid("bad_snooze", "This reminder cannot be put off so.", *reasons)
    if row.acknowledged_at is not None or row.settled_at is not None:
        raise Conflict("reminder_answered", "This reminder is answered already; nothing is left to put off.")
    row.snoozed_until, row.snooze_reason = until, reason.strip()[:200]
    row.save(update_fields=["snoozed_until", "snooze_reason"])
    _answered(actor, {row.matter})
    note(actor, "snooze_reminder", "reminder", row.pk, f"{row.subject}: put off, {row.snooze_reason}")
    return row


@transaction.atomic
def mark_seen(*, actor: Actor, reminder_ids: Iterable[int]) -> int:
    """The actor has had these reminders before their eyes."""
    return Reminder.objects.filter(
        pk__in=list(reminder_ids), operator_id=actor.operator_id, recipient_id=actor.user_id, seen_at=None
    ).update(seen_at=now())


def _own(actor: Actor, reminder_ids: Iterable[int]) -> list[Reminder]:
    ids = list(dict.fromkeys(reminder_ids))
    rows = list(
        Reminder.objects.select_for_update(of=("self",)).filter(
            # A number that no key can be would be too large for SQLite to even look for.
            pk__in=[pk for pk in ids if pk <= BigIntegerField.MAX_BIGINT],
            operator_id=actor.operator_id,
            recipient_id=actor.user_id,
            channel="product",
        )
    )
    if len(rows) != len(ids) or not rows or actor.user_id is None:
        raise NotFound("reminder_not_found", "There is no such reminder for you.")
    return rows


def _answered(actor: Actor, matters: set[str]) -> None:
    """Somebody answered: nobody's silence about it is passed on, and their own mail about it need not go out."""
    rows = Reminder.objects.filter(operator_id=actor.operator_id, matter__in=matters)
    rows.update(acknowledge_by=None)
    rows.filter(recipient_id=actor.user_id, channel="mail", sent_at=None).update(settled_at=now())


@transaction.atomic
def escalate_unacknowledged(*, actor: Actor) -> int:
    """Tell the director what nobody acknowledged in time, once a matter; returns how many matters."""
    require(actor, Verb.READ)
    waiting = Reminder.objects.filter(
        Q(acknowledge_by__lte=now()),
        operator_id=actor.operator_id,
        acknowledged_at=None,
        escalated_at=None,
        settled_at=None,
    )
    by_matter: dict[str, list[Reminder]] = {}
    for row in waiting.select_related("recipient").order_by("id"):
        by_matter.setdefault(row.matter, []).append(row)
    if not by_matter:
        return 0
    operator = Operator.objects.get(pk=actor.operator_id)
    directors = readers_of(operator).told([Role.DIRECTOR.value], None, None)
    told = [row for rows in by_matter.values() for row in _escalation(rows, directors)]
    Reminder.objects.bulk_create(told, ignore_conflicts=True)
    done = [row.pk for rows in by_matter.values() for row in rows]
    Reminder.objects.filter(pk__in=done).update(escalated_at=now())
    for matter, rows in by_matter.items():
        note(
            actor,
            "escalate_reminder",
            "reminder",
            rows[0].pk,
            f"{rows[0].subject}: nobody acknowledged {matter}"[:400],
        )
    return len(by_matter)


def _escalation(rows: list[Reminder], directors: Iterable[Reader]) -> list[Reminder]:
    """What the directors are told, at once by mail too unless they want none; who was silent is not told again."""
    first = rows[0]
    silent = sorted(row.recipient.full_name for row in rows if row.recipient)
    names = " and ".join([", ".join(silent[:-1]), silent[-1]] if len(silent) > 1 else silent)
    usual = {
        "operator_id": first.operator_id,
        "applicability_id": first.applicability_id,
        "task_id": first.task_id,
        "stage": "escalated",
        "rung": first.rung,
        "matter": f"{first.matter}{ESCALATED}",
        "subject": f"Not acknowledged: {first.subject}"[:200],
        "words": f"{names} did not acknowledge this in time.\n{first.words}",
        "detail": first.detail | {"stage": "escalated", "silent": silent},
        "written_at": now(),
    }
    told = []
    was_told = {row.recipient_id for row in rows}
    for reader in directors:
        if reader.person.pk in was_told:
            continue
        key = f"{usual['matter']}:person-{reader.person.pk}"
        told.append(
            Reminder(
                **usual, recipient=reader.person, channel="product", key=key, send_after=now(), sent_at=now()
            )
        )
        if reader.by_mail != ReminderChoice.ByMail.NONE:
            told.append(by_mail(usual, reader))
    return told
