"""Why something is due, in plain sentences: what decides, what it rests on, the arithmetic, what would
change it.

The same sentences stand on screen, on paper, in the API and in mail. Pure.
"""

from __future__ import annotations

from fleet.common.wording import day as day_words
from scheduling.due.anchor import window_edges
from scheduling.due.terms import (
    CALENDAR,
    Anchor,
    Combine,
    DueResult,
    DueStatus,
    Limit,
    LimitDue,
    Limits,
    Mark,
    Measure,
    NextDue,
    Since,
)
from scheduling.due.wording import (
    MEASURE_NAMES,
    SINCE_NAMES,
    amount_words,
    interval_words,
    place_words,
    point_words,
    size_words,
)

STATUS_WORDS = {
    DueStatus.OK: "Not due yet",
    DueStatus.DUE_SOON: "Due soon",
    DueStatus.DUE: "Due now",
    DueStatus.OVERDUE: "Overdue",
    DueStatus.UNKNOWN: "Not known",
    DueStatus.COMPLETE: "Complete",
}

ANCHOR_WORDS = {
    Anchor.FROM_DUE: "When it is done late, the next interval counts from the due point, not from the work.",
    Anchor.FROM_DONE: "The next interval counts from when the work is done.",
    Anchor.WINDOW: (
        "Done inside the window, the next interval counts from the due point; outside it, from the work."
    ),
    Anchor.FROM_DUE_IF_EXTENDED: (
        "The next interval counts from when the work is done, "
        "or from the old due point where it was extended."
    ),
}


def explain(result: DueResult) -> tuple[str, ...]:
    """The reasons of a due, line by line, ready to show.

    "Due soon by landings: 1 landing left, due at 2 400 landings." comes first; then the record it rests
    on, the arithmetic, the other limits and what would change it.
    """
    due = result.limit(result.governing)
    lines = [_headline(due), *_basis(due), *_arithmetic(due), *_stretch(due)]
    lines += _others(result, due)
    lines += _changes(result, due)
    if due.limit.source:
        lines.append(f"Rule: {due.limit.source}.")
    return tuple(lines)


def words_of(due: LimitDue) -> str:
    """One limit in one line: "flight hours: 37:36 h left, due at 1 350:00 h"."""
    name = MEASURE_NAMES[due.limit.measure]
    if due.status is DueStatus.COMPLETE:
        return f"{name}: nothing left to do"
    if due.due_at is None or due.remaining is None:
        return f"{name}: not known, {_missing(due)}"
    return f"{name}: {_left(due)}, due {_at(due)}"


def _left(due: LimitDue) -> str:
    remaining = due.remaining or 0
    size = size_words(due.limit.measure, abs(remaining))
    if remaining < 0:
        return f"{size} past"
    return f"{size} left" if remaining else "nothing left"


def _at(due: LimitDue) -> str:
    assert due.due_at is not None  # noqa: S101 - asked only where a due point exists
    return place_words(due.limit.measure, due.due_at)


def _missing(due: LimitDue) -> str:
    name = MEASURE_NAMES[due.limit.measure]
    if due.origin is None:
        wanted = due.limit.since
        if wanted is Since.LAST_DONE:
            return "it was never recorded as done and nothing says when it began"
        return f"nothing says when it was {SINCE_NAMES[wanted]}"
    if due.limit.measure is Measure.SEASON and due.origin.day is not None:
        return "the base has no icing season"
    if due.counted_from is None:
        return f"the {name} at that moment are not recorded" if due.limit.measure not in CALENDAR else (
            "the day is not recorded"
        )  # fmt: skip
    return f"the present {name} are not recorded"


def _headline(due: LimitDue) -> str:
    name = MEASURE_NAMES[due.limit.measure]
    state = STATUS_WORDS[due.status]
    if due.status is DueStatus.COMPLETE:
        return f"{state}: nothing is left to do."
    if due.due_at is None or due.remaining is None:
        return f"{state} by {name}: {_missing(due)}."
    return f"{state} by {name}: {_left(due)}, due {_at(due)}."


def _basis(due: LimitDue) -> list[str]:
    if due.origin is None:
        return []
    since = due.origin_since or Since.LAST_DONE
    place = _mark_words(due.origin, due.limit.measure)
    record = f" (record {due.origin.record})" if due.origin.record else ""
    lines = [f"{SINCE_NAMES[since].capitalize()} {place}{record}."]
    if due.is_first_time:
        lines.append("It was not done since then, so the limit for the first time applies.")
    return lines


def _mark_words(mark: Mark, measure: Measure) -> str:
    parts = [day_words(mark.day)] if mark.day else []
    counter = mark.counters.get(measure.value)
    if counter is not None:
        parts.append(f"at {size_words(measure, counter)}")
    return " ".join(parts) or "on a day not recorded"


def _arithmetic(due: LimitDue) -> list[str]:
    if due.due_at is None:
        return []
    measure = due.limit.measure
    at = point_words(measure, due.due_at)
    lines = []
    if due.counted_from is not None and due.amount is not None:
        base = point_words(measure, due.counted_from)
        lines.append(f"{base} + {interval_words(due.limit, due.amount)} = {at}.")
    elif measure is Measure.SEASON:
        lines.append(f"The season date that follows is {at}.")
    else:
        lines.append(f"The date is fixed: {at}.")
    if due.now is not None and due.remaining is not None:
        now = point_words(measure, due.now)
        lines.append(f"{at} − {now} now = {size_words(measure, due.remaining)}.")
    if due.counted_from is not None and due.origin is not None and due.origin_since is Since.LAST_DONE:
        lines += _counted_from_due(due)
    return lines


def _counted_from_due(due: LimitDue) -> list[str]:
    assert due.origin is not None and due.counted_from is not None  # noqa: S101, PT018 - narrows the types
    measure = due.limit.measure
    done = due.origin.day if measure in CALENDAR else due.origin.counters.get(measure.value)
    if done == due.counted_from or measure is Measure.SEASON:
        return []
    return [
        f"It counts from the earlier due point {point_words(measure, due.counted_from)}, not from the work."
    ]


def _stretch(due: LimitDue) -> list[str]:
    lines = []
    measure = due.limit.measure
    if due.variation is not None and due.allowed_to is not None:
        granted = due.variation
        reference = f", {granted.reference}" if granted.reference else ""
        lines.append(
            f"A permitted variation of {amount_words(measure, granted.amount)} was granted "
            f"by {granted.approved_by}{reference} ({granted.reason}): "
            f"it may run to {point_words(measure, due.allowed_to)}, this once."
        )
    if due.limit.overrun is not None and due.due_at is not None:
        allowed = amount_words(measure, due.limit.overrun.allowed)
        only = ", only en route to where it can be done" if due.limit.overrun.en_route_only else ""
        lines.append(f"The rule lets it be exceeded by up to {allowed}{only}.")
    edges = window_edges(due)
    if edges is not None:
        lines.append(f"Window: {point_words(measure, edges[0])} to {point_words(measure, edges[1])}.")
    if due.status is DueStatus.OVERDUE:
        lines.append("Past the last lawful point: not to be flown or used until it is done.")
    return lines


def _others(result: DueResult, governing: LimitDue) -> list[str]:
    if len(result.limits) < 2:
        return []
    others = [f"Also {words_of(due)}." for due in result.limits if due.path != governing.path]
    return [f"Limits: {result.rule}.", *others]


def _changes(result: DueResult, due: LimitDue) -> list[str]:
    if due.status is DueStatus.COMPLETE:
        return []
    if due.status is DueStatus.UNKNOWN:
        return ["To know it: record when it was last done, with its counters."]
    steps = [one for one in result.if_done_now if one.next_due not in (None, one.was_due)]
    lines = []
    if steps:
        places = " or ".join(
            place_words(one.limit.measure, one.next_due) for one in steps if one.next_due is not None
        )
        lines.append(f"Done now, it would next be due {places}.")
    if due.limit.since is not Since.LAST_DONE:
        lines.append(f"Only a new mark moves it: it runs from when it was {SINCE_NAMES[due.limit.since]}.")
    elif due.limit.measure not in (Measure.DATE, Measure.SEASON):
        lines.append(ANCHOR_WORDS[due.limit.anchor])
    return lines


def next_words(step: NextDue, new: LimitDue) -> str:
    """What became of a limit when the work was done: "flight hours: done 4:30 h late, next at 1 400:00 h"."""
    measure = step.limit.measure
    parts = []
    if step.late_by is not None:
        size = size_words(measure, abs(step.late_by))
        parts.append(
            "done on time" if step.late_by == 0 else f"done {size} {'late' if step.late_by > 0 else 'early'}"
        )
    if step.is_violation:
        parts.append("past what the rule allows")
    if step.next_due is None:
        parts.append("nothing left to do" if new.status is DueStatus.COMPLETE else "next not known")
    else:
        parts.append(f"next {place_words(measure, step.next_due)}")
    return f"{MEASURE_NAMES[measure]}: {', '.join(parts)}"


def rule_words(limits: Limits) -> str:
    """The limits of a requirement in words: "200:00 h or 12 calendar months to the end of the month,
    whichever comes first"."""
    if isinstance(limits, Limit):
        return _limit_words(limits)
    parts = [rule_words(one) if isinstance(one, Limit) else f"({rule_words(one)})" for one in limits.members]
    which = "first" if limits.combine is Combine.FIRST else "last"
    return f"{' or '.join(parts)}, whichever comes {which}"


def _limit_words(limit: Limit) -> str:
    words = interval_words(limit)
    if limit.since is not Since.LAST_DONE:
        words = f"{words} since {SINCE_NAMES[limit.since]}"
    if limit.first is not None:
        first = f"first {interval_words(limit, limit.first)} since {SINCE_NAMES[limit.first_since]}"
        words = f"{first}, then every {words}"
    return words
