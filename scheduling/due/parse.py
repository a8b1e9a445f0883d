"""Limits as plain written data and back, with every fault named: field, value and remedy. Pure.

    {"combine": "first", "of": [{"measure": "months", "every": 12, "month_rule": "end_of_month"},
                                {"measure": "hours", "every": "200:00", "soon": "20:00"}]}

Hours and time in use are written "200:00". A season is written "10-01" (a northern day), "begins" or "ends".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import date
from typing import Any

from scheduling.due.sense import faults_of_limit
from scheduling.due.terms import (
    CALENDAR,
    Anchor,
    Combine,
    Group,
    Limit,
    Limits,
    Measure,
    MonthDay,
    MonthRule,
    Overrun,
    SeasonEdge,
    Since,
    Window,
)
from scheduling.due.written import (
    Choice,
    Faults,
    amount_from_data,
    amount_to_data,
    percent_from_data,
    read_choice,
    read_early,
    read_flag,
    read_interval,
    read_size,
    read_text,
    read_warning,
    size_to_data,
)
from scheduling.due.written import LimitError as LimitError

DEEPEST = 4
WIDEST = 12
LIMIT_FIELDS = frozenset(field.name for field in fields(Limit)) - {"interval"} | {"every"}


def limits_from_data(data: object, *, today: date | None = None, component: bool | None = None) -> Limits:
    """Read limits: `{"measure": "days", "every": 30}` is a 30-day limit. Raises LimitError naming every
    fault.

    With `today`, fixed dates in the past are refused. With `component=False` (the requirement is on an
    aircraft) limits since fitting or overhaul are refused.
    """
    faults = Faults()
    limits = _node(data, "limits", 0, faults)
    if limits is not None:
        for path, limit in _with_fields(limits, "limits"):
            for fault in faults_of_limit(limit, path, today=today, component=component):
                faults.add(*fault)
    faults.raise_if_any()
    assert limits is not None  # noqa: S101 - without limits a fault was noted
    return limits


def _with_fields(limits: Limits, field: str) -> Sequence[tuple[str, Limit]]:
    if isinstance(limits, Limit):
        return [(field, limits)]
    return [
        found
        for number, member in enumerate(limits.members)
        for found in _with_fields(member, f"{field}.of[{number}]")
    ]


def _node(data: object, field: str, depth: int, faults: Faults) -> Limits | None:
    if not isinstance(data, Mapping):
        faults.add(field, data, "is no limit", 'write {"measure": ..., "every": ...} or a group of them')
        return None
    if "combine" in data or "of" in data:
        return _group(data, field, depth, faults)
    before = len(faults.reasons)
    limit = _limit(data, field, faults)
    return limit if len(faults.reasons) == before else None


def _group(data: Mapping[str, Any], field: str, depth: int, faults: Faults) -> Group | None:
    before = len(faults.reasons)
    for name in data.keys() - {"combine", "of"}:
        faults.add(f"{field}.{name}", data[name], "is not known", "a group has combine and of")
    combine = read_choice(data.get("combine"), Combine, f"{field}.combine", faults)
    listed = data.get("of")
    if not isinstance(listed, list | tuple) or not 1 <= len(listed) <= WIDEST:
        faults.add(f"{field}.of", listed, "lists no limits", f"list one to {WIDEST} limits")
        return None
    if depth >= DEEPEST:
        faults.add(field, "", "is nested too deep", f"nest at most {DEEPEST} groups")
        return None
    members = [_node(one, f"{field}.of[{number}]", depth + 1, faults) for number, one in enumerate(listed)]
    if combine is None or len(faults.reasons) > before:
        return None
    return Group(combine, tuple(member for member in members if member is not None))


def _limit(data: Mapping[str, Any], field: str, faults: Faults) -> Limit | None:
    for name in data.keys() - LIMIT_FIELDS:
        faults.add(f"{field}.{name}", data[name], "is not known", f"use {', '.join(sorted(LIMIT_FIELDS))}")
    measure = read_choice(data.get("measure"), Measure, f"{field}.measure", faults)
    if measure is None:
        return None
    interval = read_interval(data.get("every"), measure, f"{field}.every", faults)

    def optional(name: str) -> int | None:
        given = data.get(name)
        return None if given is None else read_size(given, measure, f"{field}.{name}", faults)

    def choice(name: str, kind: type[Choice], usual: Choice) -> Choice:
        return read_choice(data[name], kind, f"{field}.{name}", faults) or usual if name in data else usual

    return Limit(
        measure=measure,
        interval=1 if interval is None else interval,
        first=optional("first"),
        since=choice("since", Since, Since.LAST_DONE),
        first_since=choice("first_since", Since, Since.NEW),
        once=read_flag(data, "once", field, faults),
        more_than=read_flag(data, "more_than", field, faults),
        month_rule=choice("month_rule", MonthRule, MonthRule.END_OF_MONTH),
        anchor=choice("anchor", Anchor, Anchor.FROM_DONE),
        overrun=_overrun(data.get("overrun"), measure, f"{field}.overrun", faults),
        window=_window(data.get("window"), measure, f"{field}.window", faults),
        soon=read_warning(data.get("soon"), measure, f"{field}.soon", faults),
        early=read_early(data.get("early"), f"{field}.early", faults),
        source=read_text(data.get("source"), f"{field}.source", faults),
    )


def _overrun(given: object, measure: Measure, field: str, faults: Faults) -> Overrun | None:
    if given is None:
        return None
    if not isinstance(given, Mapping):
        faults.add(field, given, "is no overrun", 'write {"allowed": "10:00", "en_route_only": true}')
        return None
    allowed = amount_from_data(given.get("allowed"), measure, f"{field}.allowed", faults)
    only = read_flag(given, "en_route_only", field, faults)
    return None if allowed is None else Overrun(allowed, only)


def _window(given: object, measure: Measure, field: str, faults: Faults) -> Window | None:
    if given is None:
        return None
    percent = percent_from_data(given.get("percent") if isinstance(given, Mapping) else given, field, faults)
    cap = given.get("cap") if isinstance(given, Mapping) else None
    unit = Measure.DAYS if measure in CALENDAR else measure
    size = None if cap is None else read_size(cap, unit, f"{field}.cap", faults)
    return None if percent is None else Window(percent, size)


def limits_to_data(limits: Limits) -> dict[str, Any]:
    """Limits as plain written data: what `limits_from_data` reads back to the same limits."""
    if isinstance(limits, Group):
        return {"combine": limits.combine.value, "of": [limits_to_data(one) for one in limits.members]}
    unit = Measure.DAYS if limits.measure in CALENDAR else limits.measure
    written: dict[str, Any] = {
        "measure": limits.measure.value,
        "every": _interval_to_data(limits),
        "first": None if limits.first is None else size_to_data(limits.measure, limits.first),
        "overrun": _overrun_to_data(limits),
        "window": _window_to_data(limits, unit),
        "soon": None if limits.soon is None else size_to_data(unit, limits.soon),
        "early": limits.early,
    }
    usual = Limit(limits.measure, 1)
    for name in ("since", "first_since", "month_rule", "anchor"):
        chosen = getattr(limits, name)
        written[name] = None if chosen == getattr(usual, name) else chosen.value
    for name in ("once", "more_than", "source"):
        written[name] = getattr(limits, name) or None
    return {name: value for name, value in written.items() if value is not None}


def _interval_to_data(limit: Limit) -> int | str:
    interval = limit.interval
    if isinstance(interval, SeasonEdge):
        return interval.value
    if isinstance(interval, MonthDay):
        return f"{interval.month:02d}-{interval.day:02d}"
    return interval.isoformat() if isinstance(interval, date) else size_to_data(limit.measure, interval)


def _overrun_to_data(limit: Limit) -> dict[str, Any] | None:
    if limit.overrun is None:
        return None
    allowed = amount_to_data(limit.measure, limit.overrun.allowed)
    return {"allowed": allowed, "en_route_only": limit.overrun.en_route_only}


def _window_to_data(limit: Limit, unit: Measure) -> dict[str, Any] | None:
    if limit.window is None:
        return None
    cap = {} if limit.window.cap is None else {"cap": size_to_data(unit, limit.window.cap)}
    return {"percent": str(limit.window.percent), **cap}
