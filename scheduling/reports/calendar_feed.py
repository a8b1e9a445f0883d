"""A calendar as RFC 5545 text: concrete dates, stable identities, nothing that changes by being asked for."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, timedelta

from icalendar import Alarm, Calendar, Event

from scheduling.services.calendar_links import Stamped

PRODUCT = "-//Verglas//Maintenance calendar//EN"
DAYS_BEFORE_DUE, HOURS_BEFORE_WORK = 7, 1


def calendar_text(name: str, entries: Iterable[Stamped]) -> bytes:
    """The whole feed in UTF-8, lines folded at 75 octets and ended by CRLF.

    Without METHOD, DTSTAMP is when an entry last changed (3.8.7.2), so the same content is the same bytes.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", timedelta(hours=1), parameters={"VALUE": "DURATION"})
    for entry in entries:
        calendar.add_component(event_of(entry))
    return bytes(calendar.to_ical())


def event_of(entry: Stamped) -> Event:
    """One entry: a whole day without an end, or a time with one; it never blocks anybody's time."""
    thing, event = entry.thing, Event()
    event.add("uid", thing.uid)
    event.add("dtstamp", entry.modified_at.astimezone(UTC))
    event.add("last-modified", entry.modified_at.astimezone(UTC))
    event.add("sequence", entry.sequence)
    event.add("summary", thing.summary)
    if thing.description:
        event.add("description", thing.description)
    if thing.place:
        event.add("location", thing.place)
    if thing.day is not None:
        event.add("dtstart", thing.day)
        event.add_component(_alarm(thing.summary, timedelta(days=-DAYS_BEFORE_DUE)))
    elif thing.starts_at is not None and thing.ends_at is not None:
        event.add("dtstart", thing.starts_at.astimezone(UTC))
        event.add("dtend", thing.ends_at.astimezone(UTC))
        event.add_component(_alarm(thing.summary, timedelta(hours=-HOURS_BEFORE_WORK)))
    event.add("transp", "TRANSPARENT")
    return event


def _alarm(words: str, before: timedelta) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", words)
    alarm.add("trigger", before)
    return alarm
