"""A procedure's data and the rows of its editor, each made from the other; what no row shows is kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.text import slugify

from fleet.quantities import plain_number
from scheduling.screens.procedure_rows import blank
from scheduling.screens.rows import Row

Content = dict[str, Any]
Rows = dict[str, list[Row]]
AMOUNTS = {
    "nominal": {"nominal": "nominal", "plus": "plus", "minus": "minus"},
    "relative": {"nominal": "nominal", "plus": "plus_percent", "minus": "minus_percent"},
    "minimum": {"low": "minimum"},
    "maximum": {"high": "maximum"},
    "window": {"low": "low", "high": "high"},
    "ratio": {"low": "minimum"},
    "all_yes": {"low": "expected"},
}
STEP_FIELDS = {
    "check": (),
    "set_control": ("control", "state"),
    "read_value": ("point", "equipment_role"),
    "timed_run": ("seconds", "tolerance_seconds", "point"),
    "duty_run": ("runs", "max_on_seconds", "min_rest_seconds"),
    "outlets": ("zones", "longest_seconds"),
    "collect": ("run_step",),
    "caution": (),
    "note": (),
    "photo": (),
}
ALWAYS_THERE = ("control", "state", "seconds", "max_on_seconds", "min_rest_seconds", "zones")


def rows_of(content: Mapping[str, Any]) -> Rows:
    """The rows an editor shows for a procedure's data."""
    return {
        "equipment": [_equipment_row(each) for each in content.get("equipment") or []],
        "points": [_point_row(each) for each in content.get("points") or []],
        "steps": [_step_row(each) for each in content.get("steps") or []],
    }


def frame_of(content: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of the frame that belong to the data: purpose, cautions, fluid, follow-up."""
    fluid = content.get("fluid") or {}
    return {
        "purpose": content.get("purpose", ""),
        "cautions": "\n".join(content.get("cautions") or []),
        "fluid_minimum": fluid.get("minimum", ""),
        "fluid_unit": fluid.get("unit", ""),
        "fluid_note": fluid.get("note", ""),
        "follow_up_on_fail": content.get("follow_up_on_fail", ""),
    }


def content_of(frame: Mapping[str, Any], rows: Rows) -> Content:
    """The procedure's data from frame and rows; an empty key is made from the name."""
    fluid = None
    if frame.get("fluid_minimum") or frame.get("fluid_unit"):
        fluid = {
            "minimum": frame.get("fluid_minimum", ""),
            "unit": frame.get("fluid_unit", ""),
            "note": frame.get("fluid_note", ""),
        }
    return {
        "purpose": frame.get("purpose", "").strip(),
        "cautions": [line.strip() for line in frame.get("cautions", "").splitlines() if line.strip()],
        "equipment": [_equipment(row) for row in rows["equipment"]],
        "fluid": fluid,
        "points": [_point(row) for row in rows["points"]],
        "steps": [_step(row) for row in rows["steps"]],
        "follow_up_on_fail": frame.get("follow_up_on_fail", ""),
    }


def with_keys(rows: Rows) -> Rows:
    """The same rows, each with a key of its own, so that other rows can name it."""
    made = {}
    for name, (key, source) in {
        "equipment": ("role", "name"),
        "points": ("key", "name"),
        "steps": ("key", "title"),
    }.items():
        taken: set[str] = {str(row[key]) for row in rows[name] if row[key]}
        made[name] = [_with_key(row, key, str(row[source]), taken) for row in rows[name]]
    return made


def _with_key(row: Row, key: str, source: str, taken: set[str]) -> Row:
    if row[key] or not slugify(source):
        return row
    start = slugify(source)[:40]
    found, number = start, 2
    while found in taken:
        found, number = f"{start}-{number}", number + 1
    taken.add(found)
    return {**row, key: found}


def _condition_rows(each: Mapping[str, Any]) -> Row:
    when = each.get("when") or {}
    return {
        "when_all": list(when.get("options_all", [])),
        "when_none": list(when.get("options_none", [])),
    }


def _condition(row: Row) -> Content:
    if not row["when_all"] and not row["when_none"]:
        return {}
    return {"when": {"options_all": row["when_all"], "options_none": row["when_none"]}}


def _equipment_row(each: Mapping[str, Any]) -> Row:
    known = {name: each.get(name, "") for name in ("role", "kind", "name")}
    return {**blank("equipment"), **known, **_condition_rows(each)}


def _equipment(row: Row) -> Content:
    return {"role": row["role"], "kind": row["kind"], "name": row["name"], **_condition(row)}


def _point_row(each: Mapping[str, Any]) -> Row:
    limit, of = each.get("limit") or {}, [*(each.get("of") or []), "", ""]
    normalise = each.get("normalise") or {}
    kind = limit.get("kind", "nominal")
    amounts = {ours: limit.get(theirs, "") for ours, theirs in AMOUNTS.get(kind, {}).items()}
    if kind == "pair_difference":
        amounts = {
            "high": limit.get("maximum", limit.get("maximum_percent", "")),
            "nominal": limit.get("nominal", ""),
            "basis": limit.get("basis", ""),
        }
    return {
        **blank("points"),
        **{name: each.get(name, "") for name in ("key", "name", "unit", "side")},
        "role": each.get("role", "measurement"),
        "limit_kind": kind,
        **amounts,
        "of_first": of[0],
        "of_second": of[1],
        "rounding": limit.get("rounding", ""),
        "normalise_seconds": normalise.get("seconds", ""),
        "normalise_percent": normalise.get("most_percent", ""),
        "trend_nominal": each.get("nominal", ""),
        "trend": "on" if each.get("trend") else "",
    }


def _point(row: Row) -> Content:
    point: Content = {name: row[name] for name in ("key", "name", "unit")}
    compares = row["limit_kind"] in ("pair_difference", "ratio")
    if row["side"]:
        point["side"] = row["side"]
    if row["role"] and row["role"] != "measurement":
        point["role"] = row["role"]
    if compares:
        point["of"] = [row["of_first"], row["of_second"]]
    if row["normalise_seconds"] or row["normalise_percent"]:
        point["normalise"] = {
            "seconds": row["normalise_seconds"],
            "most_percent": row["normalise_percent"],
        }
    if row["trend_nominal"]:
        point["nominal"] = row["trend_nominal"]
    if row["trend"]:
        point["trend"] = True
    return {**point, "limit": _limit(row)}


def _limit(row: Row) -> Content:
    kind = row["limit_kind"]
    limit: Content = {"kind": kind}
    if kind == "pair_difference":
        limit["basis"] = row["basis"]
        limit["maximum" if row["basis"] in ("", "absolute") else "maximum_percent"] = row["high"]
        if row["basis"] == "of_nominal":
            limit["nominal"] = row["nominal"]
    for ours, theirs in AMOUNTS.get(kind, {}).items():
        limit[theirs] = row[ours]
    if kind == "all_yes":
        limit["expected"] = _whole(row["low"])
        return limit
    limit["unit"] = row["unit"]
    if kind != "ratio" and row["rounding"] not in ("", "unrounded"):
        limit["rounding"] = row["rounding"]
    return limit


def _step_row(each: Mapping[str, Any]) -> Row:
    known = {name: each[name] for name in blank("steps") if name in each and name != "when"}
    points = each.get("points") or {}
    return {
        **blank("steps"),
        **known,
        "point_left": points.get("left", ""),
        "point_right": points.get("right", ""),
        **_condition_rows(each),
    }


def _step(row: Row) -> Content:
    kind = row["kind"]
    step: Content = {name: row[name] for name in ("key", "kind", "title")}
    step |= {name: row[name].strip() for name in ("text", "caution") if row[name].strip()}
    for name in STEP_FIELDS.get(kind, ()):
        if row[name] or name in ALWAYS_THERE:
            step[name] = _whole(row[name]) if name == "runs" else row[name]
    if kind == "collect":
        sides = {"left": row["point_left"], "right": row["point_right"]}
        step["points"] = {side: key for side, key in sides.items() if key}
    return {**step, **_condition(row)}


def _whole(written: Any) -> Any:
    number = plain_number(written)
    return written if number is None else number
