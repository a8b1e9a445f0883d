"""What a week is planned with: bays, shifts and ground times, one by one or over a stretch of days."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from typing import TypeVar
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day
from fleet.common.errors import Conflict, Invalid, NotFound, Reason, wrong
from fleet.common.wording import moment
from fleet.models import Aircraft, Base, User
from fleet.selectors.aircraft import aircraft_by_id
from fleet.selectors.people import person_for
from fleet.services.trail import note
from scheduling.models import Bay, GroundTime, Shift, Slot, WeekPlan
from scheduling.services.plans import base_for

_wrong = partial(wrong, code="bad_input")

LONGEST_STRETCH_DAYS = 92
EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class Pattern:
    """From one time of day to another (past midnight where it is not later), on these weekdays (Monday 0)."""

    first_day: date
    last_day: date
    starts: time
    ends: time
    weekdays: tuple[int, ...] = EVERY_DAY

    def moments(self, zone: str) -> Iterator[tuple[datetime, datetime]]:
        """Begin and end of each, in UTC, by the wall clock of a zone."""
        day = self.first_day
        while day <= self.last_day:
            if day.weekday() in self.weekdays:
                last = day if self.ends > self.starts else day + timedelta(days=1)
                yield _utc(day, self.starts, zone), _utc(last, self.ends, zone)
            day += timedelta(days=1)


def _utc(day: date, at: time, zone: str) -> datetime:
    return datetime.combine(day, at, ZoneInfo(zone)).astimezone(UTC)


@transaction.atomic
def add_bay(*, actor: Actor, base_id: int, name: str) -> Bay:
    """A new bay at a base. Refuses an empty name and one that is there already."""
    require(actor, Verb.PLAN)
    base = base_for(actor, base_id)
    wanted = " ".join(name.split())
    if not 0 < len(wanted) <= 40:
        raise _wrong("name", name[:40], "is empty or too long", "write 1 to 40 characters")
    try:
        with transaction.atomic():
            bay = Bay.objects.create(base=base, name=wanted)
    except IntegrityError as error:
        raise _wrong("name", wanted, "is there already", "choose another name") from error
    note(actor, "add_bay", "bay", bay.pk, f"Bay {bay} at {base}")
    return bay


@transaction.atomic
def close_bay(*, actor: Actor, bay_id: int, day: date | None) -> Bay:
    """Close a bay from a day on, or open it again (None). Refuses while published work stands there after it."""
    require(actor, Verb.PLAN)
    bay = (
        Bay.objects.select_for_update(of=("self",))
        .filter(pk=bay_id, base__operator_id=actor.operator_id)
        .select_related("base")
        .first()
    )
    if bay is None:
        raise NotFound("bay_not_found", "There is no such bay here.")
    if day is not None:
        begins = _utc(day, time(0), bay.base.zone)
        there = Slot.objects.filter(bay=bay, plan__state=WeekPlan.State.PUBLISHED, ends_at__gt=begins)
        first = there.exclude(task__state__in=["closed", "withdrawn"]).select_related("task").first()
        if first is not None:
            reason = Reason(f"{first.task} is planned there", "day", day.isoformat(), "move that work first")
            raise Conflict("bay_in_use", f"{bay} cannot be closed from then on.", reason)
    bay.closed_on = day
    bay.save(update_fields=["closed_on"])
    note(actor, "close_bay", "bay", bay.pk, f"{bay} {'closed from ' + day.isoformat() if day else 'open'}")
    return bay


@transaction.atomic
def add_shifts(
    *, actor: Actor, base_id: int, person_id: int, pattern: Pattern, remark: str = ""
) -> list[Shift]:
    """Shifts of one person over a stretch of days. Refuses one that overlaps another of theirs, and writes none."""
    require(actor, Verb.PLAN)
    base, person = base_for(actor, base_id), person_for(actor, person_id)
    _check_pattern(base, pattern)
    User.objects.select_for_update().get(pk=person.pk)
    known = list(Shift.objects.filter(person=person).values_list("starts_at", "ends_at"))
    rows = []
    for starts_at, ends_at in pattern.moments(base.zone):
        _refuse_overlap(known, starts_at, ends_at, f"{person.full_name} has a shift", base)
        known.append((starts_at, ends_at))
        rows.append(
            Shift(person=person, base=base, starts_at=starts_at, ends_at=ends_at, note=remark.strip()[:80])
        )
    made = Shift.objects.bulk_create(_some(rows))
    note(actor, "add_shifts", "person", person.pk, f"{len(made)} shifts of {person.full_name} at {base}")
    return made


@transaction.atomic
def remove_shift(*, actor: Actor, shift_id: int) -> None:
    """Take a shift away. A published plan that counts on it shows it as it is: publish a new one."""
    require(actor, Verb.PLAN)
    row = (
        Shift.objects.filter(pk=shift_id, base__operator_id=actor.operator_id)
        .select_related("person")
        .first()
    )
    if row is None:
        raise NotFound("shift_not_found", "There is no such shift here.")
    note(actor, "remove_shift", "person", row.person_id, f"Shift removed: {row}")
    row.delete()


@transaction.atomic
def add_ground_times(*, actor: Actor, base_id: int, aircraft_id: int, pattern: Pattern) -> list[GroundTime]:
    """Times an aircraft stands at a base. Refuses one that overlaps another of the aircraft, and writes none."""
    require(actor, Verb.PLAN)
    base, aircraft = base_for(actor, base_id), aircraft_by_id(actor, aircraft_id)
    _check_pattern(base, pattern)
    Aircraft.objects.select_for_update(of=("self",)).get(pk=aircraft.pk)
    known = list(GroundTime.objects.filter(aircraft=aircraft).values_list("starts_at", "ends_at"))
    rows = []
    for starts_at, ends_at in pattern.moments(base.zone):
        _refuse_overlap(known, starts_at, ends_at, f"{aircraft} is on the ground already", base)
        known.append((starts_at, ends_at))
        rows.append(GroundTime(aircraft=aircraft, base=base, starts_at=starts_at, ends_at=ends_at))
    made = GroundTime.objects.bulk_create(_some(rows))
    note(
        actor,
        "add_ground_times",
        "aircraft",
        aircraft.pk,
        f"{len(made)} ground times of {aircraft} at {base}",
    )
    return made


@transaction.atomic
def remove_ground_time(*, actor: Actor, ground_time_id: int) -> None:
    """Take a ground time away; the aircraft flies then, or stands elsewhere."""
    require(actor, Verb.PLAN)
    rows = GroundTime.objects.filter(pk=ground_time_id, base__operator_id=actor.operator_id)
    row = rows.select_related("aircraft").first()
    if row is None:
        raise NotFound("ground_time_not_found", "There is no such ground time here.")
    note(actor, "remove_ground_time", "aircraft", row.aircraft_id, f"Ground time removed: {row}")
    row.delete()


def _check_pattern(base: Base, pattern: Pattern) -> None:
    reasons = []
    first, last = pattern.first_day, pattern.last_day
    if last < first:
        reasons.append(Reason("is before the first", "last_day", last.isoformat(), "choose a later day"))
    if (last - first).days > LONGEST_STRETCH_DAYS:
        remedy = f"enter at most {LONGEST_STRETCH_DAYS} days at once"
        reasons.append(Reason("is too far from the first", "last_day", last.isoformat(), remedy))
    if last < local_day(base.zone) - timedelta(days=7):
        reasons.append(Reason("is long past", "last_day", last.isoformat(), "choose days still to come"))
    if not pattern.weekdays or not set(pattern.weekdays) <= set(EVERY_DAY):
        reasons.append(Reason("name no day", "weekdays", str(pattern.weekdays), "choose Monday to Sunday"))
    if reasons:
        raise Invalid("bad_days", "These days make no sense.", *reasons)


def _refuse_overlap(
    known: list[tuple[datetime, datetime]], starts_at: datetime, ends_at: datetime, words: str, base: Base
) -> None:
    for other_start, other_end in known:
        if starts_at < other_end and other_start < ends_at:
            span = f"{moment(other_start, base.zone)} to {moment(other_end, base.zone)}"
            reason = Reason(
                f"{words} from {span}", "starts", moment(starts_at, base.zone), "choose other days or times"
            )
            raise Invalid("overlaps", reason.sentence(), reason)


def _some(rows: list[Row]) -> list[Row]:
    if not rows:
        raise _wrong("weekdays", "", "do not occur between the two days", "choose other weekdays or days")
    return rows
