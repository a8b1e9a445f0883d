"""Calendar feeds: what they show to whom, what changes them, and what ends them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar

from fleet.common.clock import frozen, now
from fleet.common.errors import Invalid, NotFound
from fleet.models import Membership
from scheduling.models import Applicability, CalendarEntry, CalendarLink, Task
from scheduling.services.calendar_links import create_link, revoke_link
from scheduling.services.due import refresh_due
from scheduling.services.plans import publish_week
from tests.makers import AircraftMaker, make_house
from tests.scheduling.due.makers import apply, make_requirement
from tests.scheduling.plans.week import MONDAY, Hangar, wall
from tests.words import plain

S = {"limits": {"measure": "days", "every": 100}}


@pytest.fixture
def item(hangar: Hangar) -> Applicability:
    row = make_requirement(hangar.workshop.operator, title="Beacon check", **S)
    made = apply(row, hangar.workshop.aircraft, day=MONDAY - timedelta(days=80))
    refresh_due([hangar.workshop.aircraft.pk])
    return made


def key_for(hangar: Hangar, role: str = "controller", **values: Any) -> str:
    return create_link(actor=hangar.actor(role), label="Mine", **values).key


def get(key: str, **headers: str) -> HttpResponse:
    return Client().get(f"/calendar/{key}.ics", headers=headers)  # type: ignore[return-value]


def events(key: str) -> dict[str, Any]:
    answer = get(key)
    assert answer.status_code == 200
    return {str(one["UID"]): one for one in Calendar.from_ical(answer.content).walk("VEVENT")}


def test_a_due_item_stands_on_its_day_with_its_projection(hangar: Hangar, item: Applicability) -> None:
    key = key_for(hangar, base_code=hangar.base.code)
    (event,) = events(key).values()
    assert str(event["SUMMARY"]) == f"{hangar.workshop.aircraft}: Beacon check"
    assert event["DTSTART"].to_ical() == b"20250330"
    assert plain(str(event["DESCRIPTION"])).splitlines()[0] == "Due 30 Mar 2025 (by the calendar)."


def test_published_work_stands_with_its_times_for_those_who_do_it(hangar: Hangar) -> None:
    plan = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    slot = plan.slots.get(task=hangar.test)
    doer = "technician" if hangar.person("technician") in slot.people.all() else "inspector"
    mine = events(key_for(hangar, doer))
    event = mine[f"slot-{hangar.test.pk}@{hangar.workshop.operator.code}.verglas"]
    assert event["DTSTART"].dt == slot.starts_at
    assert event["DTEND"].dt == slot.ends_at
    assert str(event["LOCATION"]) == f"{slot.bay}, {hangar.base}"
    assert events(key_for(hangar, "auditor")) == {}


def test_unchanged_it_is_answered_by_304_without_a_body_however_late(
    hangar: Hangar, item: Applicability
) -> None:
    """RFC 9110 13.1.2, 15.4.5."""
    key = key_for(hangar)
    first = get(key)
    with frozen(now() + timedelta(hours=5)):
        again = get(key, **{"If-None-Match": first["ETag"]})
        whole = get(key)
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])
    assert whole.content == first.content
    assert get(key, **{"If-None-Match": f'W/{first["ETag"]}, "other"'}).status_code == 304
    assert get(key, **{"If-None-Match": '"other"'}).status_code == 200


def test_a_moved_due_keeps_its_uid_raises_its_sequence_and_its_stamp(
    hangar: Hangar, item: Applicability
) -> None:
    key = key_for(hangar)
    ((uid, before),) = events(key).items()
    done = {"day": MONDAY.isoformat(), "counters": {}}
    Applicability.objects.filter(pk=item.pk).update(last_done=done, done_on=MONDAY)
    with frozen(now() + timedelta(days=2)):
        refresh_due([hangar.workshop.aircraft.pk])
        after = events(key)[uid]
        events(key)
    assert (before["SEQUENCE"], after["SEQUENCE"]) == (0, 1)
    assert after["DTSTAMP"].dt - before["DTSTAMP"].dt == timedelta(days=2)
    assert after["DTSTART"].dt > before["DTSTART"].dt
    assert CalendarEntry.objects.get().sequence == 1


def test_a_revoked_link_is_not_found(hangar: Hangar) -> None:
    made = create_link(actor=hangar.controller, label="Phone")
    assert get(made.key).status_code == 200
    revoke_link(actor=hangar.controller, link_id=made.link.pk)
    assert get(made.key).status_code == 404
    assert get("vgc_guess").status_code == 404


def test_who_has_no_role_any_more_has_no_calendar(hangar: Hangar) -> None:
    key = key_for(hangar, "technician")
    Membership.objects.filter(user=hangar.person("technician")).delete()
    assert get(key).status_code == 404


def test_only_the_digest_of_a_link_is_kept(hangar: Hangar) -> None:
    key = key_for(hangar)
    assert key not in str(list(CalendarLink.objects.values()))


def test_a_strangers_base_aircraft_and_link_are_not_to_be_had(hangar: Hangar) -> None:
    other = make_house()
    link = create_link(actor=hangar.controller, label="Mine").link
    with pytest.raises(Invalid):
        create_link(actor=other.actor("controller"), label="x", base_code=hangar.base.code + "-x")
    with pytest.raises(Invalid):
        create_link(
            actor=other.actor("controller"), label="x", registration=hangar.workshop.aircraft.registration
        )
    with pytest.raises(NotFound):
        revoke_link(actor=hangar.actor("director"), link_id=link.pk)
    link.refresh_from_db()
    assert link.revoked_at is None


@pytest.mark.parametrize(
    "values", [{"label": ""}, {"label": "x" * 81}, {"label": "x", "base_code": "a", "registration": "b"}]
)
def test_a_link_that_makes_no_sense_is_refused(hangar: Hangar, values: dict[str, str]) -> None:
    with pytest.raises(Invalid) as refused:
        create_link(actor=hangar.controller, **values)
    assert refused.value.reasons[0].remedy
    assert CalendarLink.objects.count() == 0


def test_an_aircrafts_calendar_shows_that_aircraft_alone(hangar: Hangar, item: Applicability) -> None:
    other = AircraftMaker(operator=hangar.workshop.operator, base=hangar.base)
    apply(item.requirement, other, day=MONDAY - timedelta(days=80))
    refresh_due([other.pk])
    assert len(events(key_for(hangar, base_code=hangar.base.code))) == 2
    assert len(events(key_for(hangar, registration=other.registration.lower()))) == 1


def test_a_feed_of_twenty_costs_the_queries_of_one_of_ten(hangar: Hangar) -> None:
    key, counts = key_for(hangar), []
    for round_of in range(2):
        for number in range(10):
            row = make_requirement(hangar.workshop.operator, code=f"line-{round_of}-{number}", **S)
            apply(row, hangar.workshop.aircraft, day=MONDAY - timedelta(days=80))
        refresh_due([hangar.workshop.aircraft.pk])
        get(key)
        with CaptureQueriesContext(connection) as seen:
            get(key)
        counts.append(len(seen))
    assert counts[0] == counts[1]
    assert wall(0, 8) > now()
    assert Task.objects.exists()
