"""RFC 5545 as the feed keeps it: dates, identities, folding, escaping; RFC 9110 for what did not change."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from icalendar import Calendar

from scheduling.reports.calendar_feed import calendar_text, event_of
from scheduling.selectors.calendar import Thing
from scheduling.services.calendar_links import Stamped

pytestmark = pytest.mark.published
CHANGED = datetime(2026, 3, 14, 9, 30, tzinfo=UTC)


def due(**values: object) -> Stamped:
    usual = {
        "uid": "due-1@op.verglas",
        "summary": "QX-SKA: Check",
        "description": "Due.",
        "day": date(2026, 3, 31),
    }
    return Stamped(Thing(**usual | values), 2, CHANGED)  # type: ignore[arg-type]


def lines(*entries: Stamped) -> list[str]:
    """The content lines, unfolded as 3.1 says: CRLF and one space are taken out."""
    text = calendar_text("Base", entries).decode()
    return text.replace("\r\n ", "").split("\r\n")


def test_one_prodid_one_version_and_each_event_one_uid_one_dtstamp_one_dtstart() -> None:
    """RFC 5545 3.6, 3.6.1."""
    found = lines(due(), due(uid="due-2@op.verglas"))
    count = {name: sum(1 for line in found if line.startswith(name)) for name in ("PRODID:", "VERSION:")}
    assert count == {"PRODID:": 1, "VERSION:": 1}
    for name in ("UID:", "DTSTAMP:", "DTSTART;"):
        assert sum(1 for line in found if line.startswith(name)) == 2


def test_lines_end_with_crlf_and_none_is_longer_than_75_octets() -> None:
    """RFC 5545 3.1."""
    text = calendar_text("Bø", [due(summary="Ærø – " * 40)])
    assert text.endswith(b"\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    for line in text.split(b"\r\n"):
        assert len(line) <= 75
        line.decode()


def test_a_line_of_92_octets_is_folded_once_and_unfolds_to_itself() -> None:
    """RFC 5545 3.1: folding takes CRLF and one space, unfolding takes out exactly these."""
    words = "Panel purge then timed panel flow test; see work order 118, item 4 (left wing)"
    rows = calendar_text("Base", [due(description=words)]).split(b"\r\n")
    first = next(i for i, row in enumerate(rows) if row.startswith(b"DESCRIPTION:Panel"))
    assert len(rows[first]) <= 75
    assert rows[first + 1].startswith(b" ")
    whole = rows[first] + rows[first + 1][1:]
    escaped = b"Panel purge then timed panel flow test\\; see work order 118\\, item 4 (left wing)"
    assert whole == b"DESCRIPTION:" + escaped
    assert len(whole) == 92


def test_backslash_semicolon_comma_and_newline_are_escaped_and_the_colon_is_not() -> None:
    """RFC 5545 3.3.11."""
    found = lines(due(description="Purge; then test, LH\\RH\nnote: 5:30"))
    assert "DESCRIPTION:Purge\\; then test\\, LH\\\\RH\\nnote: 5:30" in found


def test_a_due_date_is_a_whole_day_without_an_end() -> None:
    """RFC 5545 3.6.1: an event with a DATE and no DTEND lasts that day."""
    found = lines(due())
    assert "DTSTART;VALUE=DATE:20260331" in found
    assert not [line for line in found if line.startswith(("DTEND", "DURATION"))]


def test_an_end_never_stands_with_a_duration() -> None:
    """RFC 5545 3.6.1."""
    work = due(day=None, starts_at=CHANGED, ends_at=datetime(2026, 3, 14, 11, tzinfo=UTC))
    found = lines(work)
    assert "DTSTART:20260314T093000Z" in found
    assert "DTEND:20260314T110000Z" in found
    assert not [line for line in found if line.startswith("DURATION")]


def test_dtstamp_is_the_last_change_in_utc() -> None:
    """RFC 5545 3.8.7.2: without METHOD it is when the information was last revised."""
    found = lines(due())
    assert "DTSTAMP:20260314T093000Z" in found
    assert "LAST-MODIFIED:20260314T093000Z" in found


def test_a_uid_of_255_octets_survives() -> None:
    """RFC 5545 3.8.4.7 (length as in RFC 7986 5.3)."""
    uid = "u" * 255
    parsed = Calendar.from_ical(calendar_text("Base", [due(uid=uid)]))
    assert [str(event["UID"]) for event in parsed.walk("VEVENT")] == [uid]


def test_the_sequence_is_the_number_of_the_change() -> None:
    """RFC 5545 3.8.7.4."""
    assert "SEQUENCE:2" in lines(due())


def test_names_are_read_whatever_their_case() -> None:
    """RFC 5545 3.5: names are case-insensitive; the charset is UTF-8 (3.1.4)."""
    text = calendar_text("Base", [due(summary="Ærø")]).replace(b"SUMMARY:", b"summary:")
    assert [str(event["SUMMARY"]) for event in Calendar.from_ical(text).walk("VEVENT")] == ["Ærø"]


def test_dates_are_concrete_and_never_a_rule_that_would_skip_the_31st() -> None:
    """RFC 5545 3.3.10: a rule skips dates that do not exist, a due item at a month's end does not."""
    days = [date(2026, 1, 31), date(2026, 2, 28), date(2026, 3, 31)]
    found = lines(*(due(uid=f"due-{n}@op.verglas", day=day) for n, day in enumerate(days)))
    assert not [line for line in found if line.startswith(("RRULE", "RDATE"))]
    assert [line for line in found if line.startswith("DTSTART")] == [
        "DTSTART;VALUE=DATE:20260131",
        "DTSTART;VALUE=DATE:20260228",
        "DTSTART;VALUE=DATE:20260331",
    ]


def test_an_alarm_has_action_description_and_trigger() -> None:
    """RFC 5545 3.6.6, 3.8.6.3."""
    (alarm,) = event_of(due()).walk("VALARM")
    rows = alarm.to_ical().decode().split("\r\n")
    assert rows[1:-2] == ["ACTION:DISPLAY", "DESCRIPTION:QX-SKA: Check", "TRIGGER:-P7D"]


def test_an_entry_blocks_nobodys_time() -> None:
    """RFC 5545 3.6.1, 3.8.2.7."""
    assert lines(due()).count("TRANSP:TRANSPARENT") == 1


def test_the_same_content_is_the_same_bytes() -> None:
    assert calendar_text("Base", [due()]) == calendar_text("Base", [due()])
