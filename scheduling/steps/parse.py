"""Read a procedure's data form and say every wrong field at once. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any

from fleet.common.errors import Invalid, Reason
from fleet.quantities import RefusedInput
from scheduling.limits.fields import Fields
from scheduling.limits.kinds import AllYesLimit, Limit, PairLimit, RatioLimit, limit_from_data
from scheduling.steps.terms import (
    ALWAYS,
    Condition,
    EquipmentNeed,
    FluidNeed,
    Normalise,
    Point,
    PointRole,
    ProcedureContent,
    Step,
    StepKind,
    points_of,
)

COMMON = ("key", "kind", "title", "text", "caution", "when")
EXTRA: dict[StepKind, tuple[str, ...]] = {
    StepKind.CHECK: (),
    StepKind.SET_CONTROL: ("control", "state"),
    StepKind.READ_VALUE: ("point", "equipment_role"),
    StepKind.TIMED_RUN: ("seconds", "tolerance_seconds", "point"),
    StepKind.DUTY_RUN: ("runs", "max_on_seconds", "min_rest_seconds"),
    StepKind.OUTLETS: ("zones", "longest_seconds"),
    StepKind.COLLECT: ("points", "run_step"),
    StepKind.CAUTION: (),
    StepKind.NOTE: (),
    StepKind.PHOTO: (),
}
POINT_FIELDS = ("key", "name", "unit", "side", "limit", "role", "normalise", "nominal", "trend", "of")
SIDES = ("left", "right")
NO_LIMIT = AllYesLimit(1)


class _Reader:
    """Collects every reason of the whole text."""

    def __init__(self) -> None:
        self.reasons: list[Reason] = []

    def complain(self, field: str, value: object, detail: str, remedy: str) -> None:
        self.reasons.append(Reason(detail, field, "" if value is None else str(value)[:60], remedy))

    def take(self, fields: Fields) -> None:
        self.reasons.extend(fields.reasons)

    def rows(self, data: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
        rows = data.get(name, [])
        if isinstance(rows, list) and all(isinstance(row, Mapping) for row in rows):
            return rows
        self.complain(name, rows, "is not a list of objects", "send [ {…}, … ]")
        return []


def procedure_from_data(data: object) -> ProcedureContent:
    """The procedure a JSON object describes. Raises Invalid (`bad_procedure`) naming every wrong field.

    `{"purpose": "…", "steps": [{"key": "s1", "kind": "check", "title": "Chocks in place"}], …}`
    """
    reader = _Reader()
    if not isinstance(data, Mapping):
        raise Invalid("bad_procedure", "A procedure is an object with purpose, points and steps.")
    known = ("purpose", "cautions", "equipment", "fluid", "points", "steps", "follow_up_on_fail")
    top = Fields(data, "", known)
    content = ProcedureContent(
        purpose=top.text("purpose"),
        cautions=_texts(reader, data, "cautions"),
        equipment=tuple(_equipment(reader, i, row) for i, row in enumerate(reader.rows(data, "equipment"))),
        fluid=_fluid(reader, data.get("fluid")),
        points=tuple(_point(reader, i, row) for i, row in enumerate(reader.rows(data, "points"))),
        steps=tuple(_step(reader, i, row) for i, row in enumerate(reader.rows(data, "steps"))),
        follow_up_on_fail=top.text("follow_up_on_fail", ""),
    )
    reader.take(top)
    _check_whole(reader, content)
    if reader.reasons:
        words = "; ".join(reason.sentence() for reason in reader.reasons[:5])
        raise Invalid("bad_procedure", f"The procedure needs another look: {words}", *reader.reasons)
    return content


def _texts(reader: _Reader, data: Mapping[str, Any], name: str) -> tuple[str, ...]:
    rows = data.get(name, [])
    if isinstance(rows, list) and all(isinstance(row, str) and row.strip() for row in rows):
        return tuple(rows)
    reader.complain(name, rows, "is not a list of sentences", 'send ["…", "…"]')
    return ()


def _condition(reader: _Reader, data: object, where: str) -> Condition:
    if data is None:
        return ALWAYS
    names = ("options_all", "options_none")
    if not isinstance(data, Mapping) or set(data) - set(names) or not all(map(_is_texts, data.values())):
        reader.complain(where, data, "is not a condition", 'send {"options_all": ["…"], "options_none": []}')
        return ALWAYS
    both = set(data.get("options_all", ())) & set(data.get("options_none", ()))
    if both:
        reader.complain(where, ", ".join(sorted(both)), "is asked for and barred at once", "choose one")
    return Condition(frozenset(data.get("options_all", ())), frozenset(data.get("options_none", ())))


def _is_texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(each, str) and each for each in value)


def _equipment(reader: _Reader, index: int, row: Mapping[str, Any]) -> EquipmentNeed:
    fields = Fields(row, f"equipment.{index}", ("role", "kind", "name", "when"))
    need = EquipmentNeed(
        role=fields.text("role"),
        kind=fields.text("kind"),
        name=fields.text("name"),
        when=_condition(reader, row.get("when"), f"equipment.{index}.when"),
    )
    reader.take(fields)
    return need


def _fluid(reader: _Reader, data: object) -> FluidNeed | None:
    if data is None:
        return None
    fields = Fields(data, "fluid", ("minimum", "unit", "note"))
    need = FluidNeed(fields.decimal("minimum", least="0"), fields.unit(), fields.text("note", ""))
    reader.take(fields)
    return need


def _point(reader: _Reader, index: int, row: Mapping[str, Any]) -> Point:
    where = f"points.{index}"
    fields = Fields(row, where, POINT_FIELDS)
    of = row.get("of", [])
    point = Point(
        key=fields.text("key"),
        name=fields.text("name"),
        unit=fields.unit(),
        limit=_limit(reader, row.get("limit"), f"{where}.limit"),
        role=fields.choice("role", PointRole, PointRole.MEASUREMENT),
        side=fields.text("side", ""),
        of=tuple(of) if isinstance(of, list) else (),
        normalise=_normalise(reader, row.get("normalise"), f"{where}.normalise"),
        nominal=fields.decimal("nominal", above="0") if row.get("nominal") is not None else None,
        trend=fields.flag("trend"),
    )
    if point.side and point.side not in SIDES:
        fields.complain("side", "is not a side", "write left or right, or leave it out")
    reader.take(fields)
    return point


def _limit(reader: _Reader, data: object, where: str) -> Limit:
    try:
        return limit_from_data(data, where=where)
    except RefusedInput as refusal:
        reader.reasons.extend(refusal.reasons)
        return NO_LIMIT


def _normalise(reader: _Reader, data: object, where: str) -> Normalise | None:
    if data is None:
        return None
    fields = Fields(data, where, ("seconds", "most_percent"))
    rule = Normalise(fields.decimal("seconds", above="0"), fields.decimal("most_percent", least="0"))
    reader.take(fields)
    return rule


def _step(reader: _Reader, index: int, row: Mapping[str, Any]) -> Step:
    where = f"steps.{index}"
    kinds = {kind.value: kind for kind in StepKind}
    kind = kinds.get(str(row.get("kind")))
    if kind is None:
        reader.complain(
            f"{where}.kind", row.get("kind"), "is not a kind of step", f"use one of: {', '.join(kinds)}"
        )
        return Step(str(row.get("key", "")), StepKind.NOTE, "")
    fields = Fields(row, where, COMMON + EXTRA[kind])
    step = Step(
        key=fields.text("key"),
        kind=kind,
        title=fields.text("title"),
        text=fields.text("text", ""),
        caution=fields.text("caution", ""),
        when=_condition(reader, row.get("when"), f"{where}.when"),
        **_FIELDS_OF.get(kind, _no_fields)(reader, fields, row),
    )
    reader.take(fields)
    return step


def _no_fields(_reader: _Reader, _fields: Fields, _row: Mapping[str, Any]) -> dict[str, Any]:
    return {}


def _control(_reader: _Reader, fields: Fields, _row: Mapping[str, Any]) -> dict[str, Any]:
    return {"control": fields.text("control"), "state": fields.text("state")}


def _read_value(_reader: _Reader, fields: Fields, _row: Mapping[str, Any]) -> dict[str, Any]:
    return {"point": fields.text("point"), "equipment_role": fields.text("equipment_role", "")}


def _timed_run(_reader: _Reader, fields: Fields, row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "seconds": fields.decimal("seconds", above="0"),
        "tolerance_seconds": _maybe(fields, row, "tolerance_seconds"),
        "point": fields.text("point", ""),
    }


def _duty_run(_reader: _Reader, fields: Fields, _row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "runs": fields.whole("runs", 1, least=1),
        "max_on_seconds": fields.decimal("max_on_seconds", above="0"),
        "min_rest_seconds": fields.decimal("min_rest_seconds", least="0"),
    }


def _outlets(reader: _Reader, fields: Fields, row: Mapping[str, Any]) -> dict[str, Any]:
    zones = row.get("zones")
    if not isinstance(zones, list) or not zones or not all(isinstance(zone, str) for zone in zones):
        reader.complain(fields.path("zones"), zones, "is not a list of zones", 'send ["wing", "tail"]')
        zones = []
    return {"zones": tuple(zones), "longest_seconds": _maybe(fields, row, "longest_seconds")}


def _collect(reader: _Reader, fields: Fields, row: Mapping[str, Any]) -> dict[str, Any]:
    points = row.get("points")
    if not isinstance(points, Mapping) or not points or set(points) - set(SIDES):
        reader.complain(fields.path("points"), points, "names no sides", 'send {"left": "…", "right": "…"}')
        points = {}
    return {
        "side_points": tuple((side, str(points[side])) for side in SIDES if side in points),
        "run_step": fields.text("run_step", ""),
    }


def _maybe(fields: Fields, row: Mapping[str, Any], name: str) -> Decimal | None:
    return fields.decimal(name, least="0") if row.get(name) is not None else None


_FIELDS_OF: dict[StepKind, Callable[[_Reader, Fields, Mapping[str, Any]], dict[str, Any]]] = {
    StepKind.SET_CONTROL: _control,
    StepKind.READ_VALUE: _read_value,
    StepKind.TIMED_RUN: _timed_run,
    StepKind.DUTY_RUN: _duty_run,
    StepKind.OUTLETS: _outlets,
    StepKind.COLLECT: _collect,
}


def _check_whole(reader: _Reader, content: ProcedureContent) -> None:
    """What only the whole text can show: repeated keys, points nobody reads, references to nothing."""
    if not content.steps:
        reader.complain("steps", "", "has no steps", "write at least one step")
    _once(reader, "steps", (step.key for step in content.steps))
    _once(reader, "points", (point.key for point in content.points))
    _once(reader, "equipment", (need.role for need in content.equipment))
    _check_references(reader, content)
    for index, point in enumerate(content.points):
        _check_point(reader, f"points.{index}", point, content)


def _once(reader: _Reader, where: str, keys: Iterable[str]) -> None:
    for key, count in Counter(keys).items():
        if count > 1:
            reader.complain(where, key, f"stands {count} times", "give each a key of its own")


def _check_references(reader: _Reader, content: ProcedureContent) -> None:
    points = {point.key for point in content.points}
    runs = {step.key for step in content.steps if step.kind is StepKind.TIMED_RUN}
    roles = {need.role for need in content.equipment}
    for index, step in enumerate(content.steps):
        for key in points_of(step):
            if key not in points:
                reader.complain(f"steps.{index}.point", key, "is no point of this procedure", "add the point")
        if step.run_step and step.run_step not in runs:
            reader.complain(
                f"steps.{index}.run_step", step.run_step, "is no timed run here", "name a timed run"
            )
        if step.equipment_role and step.equipment_role not in roles:
            reader.complain(
                f"steps.{index}.equipment_role",
                step.equipment_role,
                "is no equipment here",
                "add the equipment",
            )


def _check_point(reader: _Reader, where: str, point: Point, content: ProcedureContent) -> None:
    compares = isinstance(point.limit, PairLimit | RatioLimit)
    if compares != bool(point.of):
        reader.complain(
            f"{where}.of", ", ".join(point.of), "does not fit its limit", "a pair names the two points"
        )
    if not point.of and not any(point.key in points_of(step) for step in content.steps):
        reader.complain(where, point.key, "is read by no step", "add a step that reads it, or leave it out")
    for key in point.of:
        if all(other.key != key for other in content.points):
            reader.complain(f"{where}.of", key, "is no point of this procedure", "name measured points")
