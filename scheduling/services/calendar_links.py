"""Secret addresses of calendar feeds, and what each entry was last told."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import partial

from django.db import transaction
from django.db.models import F

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import NotAllowed, NotFound, wrong
from fleet.common.keys import digest_of, new_key
from fleet.models import Aircraft, Base
from fleet.services.trail import note
from scheduling.models import CalendarEntry, CalendarLink
from scheduling.selectors.calendar import Thing

_wrong = partial(wrong, code="bad_calendar_link")

MOST_LINKS = 20


@dataclass(frozen=True, slots=True)
class NewLink:
    """A link just made and its secret, which is never shown again."""

    link: CalendarLink
    key: str


@dataclass(frozen=True, slots=True)
class Stamped:
    """An entry with the number and moment of its last change."""

    thing: Thing
    sequence: int
    modified_at: datetime


@transaction.atomic
def create_link(*, actor: Actor, label: str, base_code: str = "", registration: str = "") -> NewLink:
    """A link to one's own calendar, to a base's, or to an aircraft's; its secret is shown once.

    Refuses an empty label, base and aircraft at once, and more than 20 links in force.
    """
    require(actor, Verb.READ)
    if actor.user_id is None:
        raise NotAllowed("no_person", "Only people have calendars.")
    rows = CalendarLink.objects.filter(operator_id=actor.operator_id, owner_id=actor.user_id, revoked_at=None)
    if rows.count() >= MOST_LINKS:
        raise _wrong("label", label, f"would be link {MOST_LINKS + 1}", "revoke one you no longer use")
    if not 0 < len(label.strip()) <= 80:
        raise _wrong("label", label[:40], "is empty or too long", "write 1 to 80 characters")
    if base_code and registration:
        raise _wrong("aircraft", registration, "cannot be joined with a base", "make two links")
    key = new_key("vgc")
    link = CalendarLink.objects.create(
        operator_id=actor.operator_id,
        owner_id=actor.user_id,
        digest=digest_of(key),
        label=label.strip(),
        base=_base(actor, base_code) if base_code else None,
        aircraft=_aircraft(actor, registration) if registration else None,
        created_at=now(),
    )
    note(actor, "create_calendar_link", "calendar-link", link.pk, f"Calendar link “{link.label}”")
    return NewLink(link, key)


@transaction.atomic
def revoke_link(*, actor: Actor, link_id: int) -> CalendarLink:
    """End a link: whoever still has its address is told there is nothing. A stranger's is not found."""
    row = (
        CalendarLink.objects.select_for_update(of=("self",))
        .filter(pk=link_id, operator_id=actor.operator_id, owner_id=actor.user_id)
        .first()
    )
    if row is None:
        raise NotFound("calendar_link_not_found", "There is no such link of yours.")
    if row.revoked_at is None:
        row.revoked_at = now()
        row.save(update_fields=["revoked_at"])
        note(actor, "revoke_calendar_link", "calendar-link", row.pk, f"Calendar link “{row.label}” revoked")
    return row


@transaction.atomic
def stamp(*, operator_id: int, things: Sequence[Thing]) -> list[Stamped]:
    """Number and date every entry: new ones begin at 0, changed ones rise by one, unchanged ones stay."""
    wanted = {thing.uid: _content(thing) for thing in things}
    known = {
        row.uid: row for row in CalendarEntry.objects.filter(operator_id=operator_id, uid__in=list(wanted))
    }
    moment = now().replace(microsecond=0)
    CalendarEntry.objects.bulk_create(
        [
            CalendarEntry(operator_id=operator_id, uid=uid, digest=digest, modified_at=moment)
            for uid, digest in wanted.items()
            if uid not in known
        ],
        ignore_conflicts=True,
        batch_size=500,
    )
    for uid, row in known.items():
        if row.digest != wanted[uid]:
            CalendarEntry.objects.filter(pk=row.pk, digest=row.digest).update(
                digest=wanted[uid], sequence=F("sequence") + 1, modified_at=moment
            )
    rows = CalendarEntry.objects.filter(operator_id=operator_id, uid__in=list(wanted))
    stood = {uid: (sequence, at) for uid, sequence, at in rows.values_list("uid", "sequence", "modified_at")}
    return [Stamped(thing, *stood[thing.uid]) for thing in things]


def _content(thing: Thing) -> str:
    return hashlib.sha256(json.dumps(asdict(thing), sort_keys=True, default=str).encode()).hexdigest()


def _base(actor: Actor, code: str) -> Base:
    row = Base.objects.filter(operator_id=actor.operator_id, code=code).first()
    if row is None:
        raise _wrong("base", code, "is not known here", "choose a base from the list")
    return row


def _aircraft(actor: Actor, registration: str) -> Aircraft:
    row = Aircraft.objects.filter(operator_id=actor.operator_id, registration__iexact=registration).first()
    if row is None:
        raise _wrong("aircraft", registration, "is not known here", "choose an aircraft from the list")
    return row
