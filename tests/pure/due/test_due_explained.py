"""Why, in words: the same sentences everywhere."""

from datetime import date

from scheduling.due.engine import due_of, first_of, last_of
from scheduling.due.terms import (
    Amount,
    Anchor,
    Facts,
    LastDue,
    Limit,
    Mark,
    Measure,
    Overrun,
    Since,
    Variation,
)
from tests.words import plain, plain_lines

TODAY = date(2026, 3, 2)
LAST = Mark(date(2025, 3, 2), {"hours": 1200 * 60, "landings": 2300}, "R-12")


def test_a_due_says_what_decides_on_what_it_rests_and_what_would_change_it() -> None:
    limits = first_of(Limit(Measure.LANDINGS, 100, soon=10), Limit(Measure.MONTHS, 12, soon=5))
    facts = Facts(TODAY, Mark(TODAY, {"landings": 2399}), {Since.LAST_DONE: LAST})
    assert plain_lines(due_of(limits, facts).explanation) == (
        "Due soon by landings: 1 landing left, due at 2 400 landings.",
        "Last done 2 Mar 2025 at 2 300 landings (record R-12).",
        "2 300 landings + 100 landings = 2 400 landings.",
        "2 400 landings − 2 399 landings now = 1 landing.",
        "Limits: 100 landings or 12 calendar months to the end of the month, whichever comes first.",
        "Also calendar months: 29 days left, due on 31 Mar 2026.",
        "Done now, it would next be due at 2 499 landings or on 31 Mar 2027.",
        "The next interval counts from when the work is done.",
    )


def test_an_overrun_paid_back_is_told() -> None:
    limit = Limit(
        Measure.HOURS,
        6000,
        anchor=Anchor.FROM_DUE,
        overrun=Overrun(Amount(600), True),
        source="14 CFR 91.409(b)",
    )
    facts = Facts(
        TODAY, Mark(TODAY, {"hours": 1205 * 60}), {Since.LAST_DONE: LAST}, {"1": LastDue(1195 * 60 + 30)}
    )
    assert plain_lines(due_of(limit, facts).explanation) == (
        "Not due yet by flight hours: 90:30 h left, due at 1 295:30 h.",
        "Last done 2 Mar 2025 at 1 200:00 h (record R-12).",
        "1 195:30 h + 100:00 h = 1 295:30 h.",
        "1 295:30 h − 1 205:00 h now = 90:30 h.",
        "It counts from the earlier due point 1 195:30 h, not from the work.",
        "The rule lets it be exceeded by up to 10:00 h, only en route to where it can be done.",
        "Done now, it would next be due at 1 305:00 h.",
        "When it is done late, the next interval counts from the due point, not from the work.",
        "Rule: 14 CFR 91.409(b).",
    )


def test_a_granted_variation_names_who_why_and_how_far() -> None:
    granted = Variation("1", 1300 * 60, Amount(600), "the director", "hangar closed by snow", "V-7")
    facts = Facts(TODAY, Mark(TODAY, {"hours": 1301 * 60}), {Since.LAST_DONE: LAST}, variations=(granted,))
    lines = plain_lines(due_of(Limit(Measure.HOURS, 6000), facts).explanation)
    assert lines[0] == "Due now by flight hours: 1:00 h past, due at 1 300:00 h."
    assert (
        "A permitted variation of 10:00 h was granted by the director, V-7 (hangar closed by snow): "
        "it may run to 1 310:00 h, this once."
    ) in lines


def test_what_is_not_known_says_what_to_record() -> None:
    assert plain_lines(due_of(Limit(Measure.HOURS, 6000), Facts(TODAY, Mark(TODAY))).explanation) == (
        "Not known by flight hours: it was never recorded as done and nothing says when it began.",
        "To know it: record when it was last done, with its counters.",
    )


def test_a_life_limit_says_that_only_a_new_mark_moves_it() -> None:
    limit = Limit(Measure.HOURS, 6000 * 60, since=Since.NEW)
    facts = Facts(TODAY, Mark(TODAY, {"hours": 5000 * 60}), {Since.NEW: Mark(date(2019, 5, 1), {"hours": 0})})
    lines = plain_lines(due_of(limit, facts).explanation)
    assert lines[1] == "New 1 May 2019 at 0:00 h."
    assert "Done now, it would next be due" not in " ".join(lines)
    assert lines[-1] == "Only a new mark moves it: it runs from when it was new."


def test_nested_limits_read_as_one_sentence() -> None:
    limits = first_of(
        Limit(Measure.MONTHS, 24),
        last_of(Limit(Measure.LANDINGS, 300), Limit(Measure.HOURS, 200 * 60, first=3000)),
    )
    assert plain(due_of(limits, Facts(TODAY, Mark())).rule) == (
        "24 calendar months to the end of the month or (300 landings or first 50:00 h since new, "
        "then every 200:00 h, whichever comes last), whichever comes first"
    )
