"""A second, plain reckoning of dues from written data, slow and obvious, that shares no code with the engine.

Only the standard library and python-dateutil. Months by relativedelta, seasons by walking day by day, percentages
by counting up. It answers (status, {path: (due, remaining)}).
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from dateutil.relativedelta import relativedelta

RANK = ["complete", "ok", "due_soon", "unknown", "due", "overdue"]
CALENDAR = ("days", "months", "date", "season")


def minutes(text: str) -> int:
    hours, rest = text.split(":")
    return int(hours) * 60 + int(rest)


def size(measure: str, written: Any) -> int:
    return minutes(written) if measure in ("hours", "use_minutes") else int(written)


def reckon(limits: dict[str, Any], facts: dict[str, Any], path: str = "") -> tuple[str, dict[str, Any]]:
    if "of" not in limits:
        path = path or "1"
        status, due, remaining = reckon_one(limits, facts, path)
        return status, {path: (due, remaining)}
    found: dict[str, Any] = {}
    ranks = []
    for number, member in enumerate(limits["of"], 1):
        status, part = reckon(member, facts, f"{path}.{number}" if path else str(number))
        found.update(part)
        ranks.append(RANK.index(status))
    open_ones = [rank for rank in ranks if rank != 0]
    if not open_ones:
        return "complete", found
    return RANK[max(open_ones) if limits["combine"] == "first" else min(open_ones)], found


def earlier(left: dict[str, Any], right: dict[str, Any]) -> bool:
    if left["day"] != right["day"]:
        return bool(left["day"] < right["day"])
    return any(
        left["counters"][key] < right["counters"][key] for key in left["counters"] if key in right["counters"]
    )


def reckon_one(limit: dict[str, Any], facts: dict[str, Any], path: str) -> tuple[str, Any, Any]:
    measure, marks = limit["measure"], facts["marks"]
    since, first_since = limit.get("since", "last_done"), limit.get("first_since", "new")
    last = marks.get("last_done")
    if since == "event" and ("event" not in marks or (last and not earlier(last, marks["event"]))):
        return "complete", None, None
    if last and since != "event" and (limit.get("once") or measure == "date"):
        begun = marks.get(first_since if since == "last_done" else since)
        if begun is None or not earlier(last, begun):
            return "complete", None, None
    due = due_point(limit, facts, path, since, first_since)
    now = facts["today"] if measure in CALENDAR else facts["now"].get(measure)
    if due is None or now is None:
        return "unknown", None if due is None else due[0], None
    remaining = gap(now, due[0])
    return standing(limit, facts, path, due, now), due[0], remaining


def gap(start: Any, end: Any) -> int:
    return (end - start).days if isinstance(end, date) else end - start


def start_mark(marks: dict[str, Any], since: str, first_since: str) -> tuple[Any, bool]:
    name = first_since if since == "last_done" else since
    begun = marks.get(name) or (marks.get("new") if name == "overhaul" else None)
    last = marks.get("last_done")
    if since != "last_done":
        return begun, False
    if last is None or (first_since != "new" and begun is not None and earlier(last, begun)):
        return begun, True
    return last, False


def due_point(limit: dict[str, Any], facts: dict[str, Any], path: str, since: str, first_since: str) -> Any:
    measure, marks = limit["measure"], facts["marks"]
    if measure == "date":
        return date.fromisoformat(limit["every"]), None
    start, is_first = start_mark(marks, since, first_since)
    if start is None:
        return None
    if measure == "season":
        return season_point(limit, facts, start["day"], since == "last_done" and not is_first), None
    base = start["day"] if measure in CALENDAR else start["counters"].get(measure)
    if base is None:
        return None
    amount = size(measure, limit["first"] if is_first and "first" in limit else limit["every"])
    kept = facts["last_due"].get(path) if since == "last_done" and not is_first else None
    anchor = base
    if kept is not None and from_due(limit, kept, base):
        base, anchor = kept["at"], kept.get("anchor") or kept["at"]
    more = 1 if limit.get("more_than") else 0
    if measure == "days":
        return base + timedelta(days=amount + more), amount
    if measure == "months":
        if limit.get("month_rule", "end_of_month") == "end_of_month":
            return base + relativedelta(months=amount, day=31), amount * 30
        apart = (base.year - anchor.year) * 12 + base.month - anchor.month
        return anchor + relativedelta(months=amount + apart), amount * 30
    return base + amount + more, amount


def from_due(limit: dict[str, Any], kept: dict[str, Any], done: Any) -> bool:
    late = gap(kept["at"], done)
    rule = limit.get("anchor", "from_done")
    if rule == "from_due":
        return late >= 0
    if rule == "from_due_if_extended":
        return late > 0 and kept["extended"]
    return rule == "window" and abs(late) <= half_window(limit)


def half_window(limit: dict[str, Any]) -> int:
    measure = limit["measure"]
    units = size(measure, limit["every"]) * (30 if measure == "months" else 1)
    percent = int(limit["window"]["percent"])
    half = 0
    while (half + 1) * 100 <= units * percent:
        half += 1
    cap = limit["window"].get("cap")
    return half if cap is None else min(half, size(measure if measure not in CALENDAR else "days", cap))


def season_point(limit: dict[str, Any], facts: dict[str, Any], start: date, was_done: bool) -> date:
    begins_month, _ = facts["season"]
    if limit["every"] == "begins":
        month, day = facts["season"]
    else:
        month, day = (int(part) for part in limit["every"].split("-"))
        if begins_month in (2, 3, 4, 5, 6, 7):
            month = month + 6 if month <= 6 else month - 6
    walk = start + timedelta(days=limit.get("early", 183) + 1) if was_done else start
    while not (walk.month == month and walk.day == min(day, (walk + relativedelta(day=31)).day)):
        walk += timedelta(days=1)
    return walk


def standing(limit: dict[str, Any], facts: dict[str, Any], path: str, due: tuple[Any, Any], now: Any) -> str:
    at, amount = due
    lawful = [at]
    granted = facts["variations"].get(path)
    if granted is not None and granted["for_due"] == at:
        lawful.append(at + (timedelta(days=granted["amount"]) if isinstance(at, date) else granted["amount"]))
    overrun = limit.get("overrun")
    if overrun and not overrun.get("en_route_only"):
        lawful.append(stretched(limit, at, overrun["allowed"]))
    if now > max(lawful):
        return "overdue"
    if gap(now, at) <= 0:
        return "due"
    warning = limit.get("soon")
    if warning is None:
        usual = {"hours": 1500, "landings": 25, "cycles": 25, "uses": 5, "flight_days": 5, "use_minutes": 10}
        warning = usual.get(limit["measure"], 30)
        if amount is not None:
            warning = min(warning, max(1, amount // 5))
    else:
        warning = size(limit["measure"] if limit["measure"] not in CALENDAR else "days", warning)
    return "due_soon" if gap(now, at) <= warning else "ok"


def stretched(limit: dict[str, Any], at: Any, allowed: Any) -> Any:
    if not isinstance(at, date):
        return at + size(limit["measure"], allowed)
    if not isinstance(allowed, dict):
        return at + timedelta(days=allowed)
    to_end = limit["measure"] == "months" and limit.get("month_rule", "end_of_month") == "end_of_month"
    return at + relativedelta(months=allowed["months"], **({"day": 31} if to_end else {}))
