"""Bench runs from JSON and back: definitions of a procedure version, entries, stored verdicts. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from fleet.quantities import Quantity, exact_text, parse_quantity, refused, unit_of
from records.judge.bench_run import (
    DutyPoint,
    Entry,
    Part,
    PartVerdict,
    Point,
    Precondition,
    RunDefinition,
    RunVerdict,
    Section,
)
from records.judge.duty import DutyLimit, PumpRun, duty_from_data, duty_to_data
from records.judge.normalise import run_time_from_data, run_time_to_data
from records.judge.tolerance import readings_from_data
from records.judge.uncertainty import SIMPLE, rule_from_data, rule_to_data
from records.judge.weighing import DensityTable, Weighing, density_table_from_data, weighing_from_data
from scheduling.limits.fields import Fields
from scheduling.limits.kinds import describe, limit_from_data, limit_to_data

_PART_FIELDS = {
    Section.PRECONDITION: ("part", "key", "label", "limit", "minimum_samples"),
    Section.DUTY: ("part", "key", "label", "limit"),
    Section.CHECK: ("part", "key", "label", "limit"),
    Section.POINT: ("part", "key", "label", "limit", "decision_rule", "run_time", "of"),
}


def definition_from_data(data: object) -> RunDefinition:
    """A definition from `[{"part": "point", "key": "left", "label": "Left side", "limit": {…}}, …]`.

    Parts are precondition, check, duty or point. Raises RefusedInput; fields read `left.limit.minimum`.
    """
    if not isinstance(data, list | tuple):
        raise refused("bad_definition", "parts", data, "is not a list", "send a list of parts")
    return RunDefinition(tuple(_part_from_data(each, f"parts.{number}") for number, each in enumerate(data)))


def definition_to_data(definition: RunDefinition) -> list[dict[str, object]]:
    """The JSON list of a definition; reading it back gives an equal one."""
    return [_part_to_data(part) for part in definition.parts]


def _part_from_data(data: object, where: str) -> Part:
    kind = data.get("part") if isinstance(data, dict) else None
    section = next((each for each in Section if each.value == kind), None)
    if section is None or not isinstance(data, dict):
        remedy = f"use one of: {', '.join(Section)}"
        raise refused("bad_definition", f"{where}.part", kind, "is not a part of a run", remedy)
    fields = Fields(data, where, _PART_FIELDS[section])
    key, label = fields.text("key"), fields.text("label")
    samples = fields.whole("minimum_samples", 1, least=1)
    fields.finish("bad_definition")
    if section is Section.DUTY:
        return DutyPoint(key, label, duty_from_data(data.get("limit"), where=f"{key}.limit"))
    limit = limit_from_data(data.get("limit"), where=f"{key}.limit")
    if section is Section.PRECONDITION:
        return Precondition(key, label, limit, samples)
    rule = rule_from_data(data.get("decision_rule"), where=f"{key}.decision_rule")
    timed = data.get("run_time")
    run_time = None if timed is None else run_time_from_data(timed, where=f"{key}.run_time")
    return Point(key, label, limit, rule, run_time, _keys(data.get("of"), f"{key}.of"), section)


def _keys(data: object, field: str) -> tuple[str, ...]:
    if data is None:
        return ()
    if not isinstance(data, list | tuple) or not all(isinstance(each, str) for each in data):
        raise refused("bad_definition", field, data, "is not a list of keys", 'send ["left", "right"]')
    return tuple(data)


def _part_to_data(part: Part) -> dict[str, object]:
    head: dict[str, object] = {"key": part.key, "label": part.label}
    match part:
        case DutyPoint():
            return {"part": "duty", **head, "limit": duty_to_data(part.limit)}
        case Precondition():
            body = {"limit": limit_to_data(part.limit), "minimum_samples": part.minimum_samples}
            return {"part": "precondition", **head, **body}
        case Point():
            point: dict[str, object] = {
                "part": part.section.value,
                **head,
                "limit": limit_to_data(part.limit),
            }
            if part.decision_rule != SIMPLE:
                point["decision_rule"] = rule_to_data(part.decision_rule)
            if part.run_time is not None:
                point["run_time"] = run_time_to_data(part.run_time)
            if part.of:
                point["of"] = list(part.of)
            return point


def entries_from_data(data: object, *, density: DensityTable | None = None) -> dict[str, Entry]:
    """Entries from `{"left": {"readings": [{"value": "1500", "unit": "mL"}], "run_time": {…}}, …}`.

    A weighing takes the fluid lot's `density`, or carries its own rows under "density". Raises RefusedInput.
    """
    if not isinstance(data, Mapping):
        raise refused(
            "bad_entry", "entries", data, "is not an object", "send entries by the key of their part"
        )
    return {str(key): _entry_from_data(each, str(key), density) for key, each in data.items()}


def _entry_from_data(data: object, key: str, density: DensityTable | None) -> Entry:
    fields = Fields(data, key, ("readings", "run_time", "weighing", "runs"))
    fields.finish("bad_entry")
    timed, weighed = fields.values.get("run_time"), fields.values.get("weighing")
    return Entry(
        readings=readings_from_data(fields.values.get("readings", ()), where=key),
        run_time=None if timed is None else _quantity(timed, f"{key}.run_time"),
        weighing=None if weighed is None else _weighing(weighed, key, density),
        runs=_runs(fields.values.get("runs", ()), f"{key}.runs"),
    )


def _quantity(data: object, field: str) -> Quantity:
    if not isinstance(data, Mapping):
        raise refused(
            "bad_entry", field, data, "is not a value with its unit", 'send {"value": "300", "unit": "s"}'
        )
    return parse_quantity(data.get("value"), str(data.get("unit")), field=field)


def _weighing(data: object, key: str, density: DensityTable | None) -> Weighing:
    own = data.get("density") if isinstance(data, Mapping) else None
    if own is not None and isinstance(data, Mapping):
        density = density_table_from_data(own, where=f"{key}.density")
        data = {name: value for name, value in data.items() if name != "density"}
    if density is None:
        detail = "has no density table to go with it"
        raise refused(
            "no_density", key, "", detail, "enter the fluid lot's density table, or measure the volume"
        )
    return weighing_from_data(data, density, where=key)


def _runs(data: object, field: str) -> tuple[PumpRun, ...]:
    if not isinstance(data, list | tuple):
        raise refused("bad_entry", field, data, "is not a list", 'send [{"start_ms": 0, "stop_ms": 10000}]')
    return tuple(_run(each, f"{field}.{number}") for number, each in enumerate(data))


def _run(data: object, field: str) -> PumpRun:
    start = data.get("start_ms") if isinstance(data, Mapping) else None
    stop = data.get("stop_ms") if isinstance(data, Mapping) else None
    if type(start) is int and (stop is None or type(stop) is int):
        return PumpRun(start, stop)
    remedy = 'send {"start_ms": 0, "stop_ms": 10000}, stop null while it is on'
    raise refused("bad_entry", field, data, "is not a start and a stop in milliseconds", remedy)


# ---------------------------------------------------------------- verdicts to data


def run_verdict_to_data(verdict: RunVerdict, definition: RunDefinition) -> dict[str, object]:
    """The stored form of a verdict: limits, rules and amounts copied in, so later changes rewrite nothing."""
    by_key = {part.key: part for part in definition.parts}
    return {
        "outcome": verdict.outcome.value,
        "measured": verdict.measured.value,
        "reason": verdict.reason,
        "parts": [part_verdict_to_data(each, by_key[each.key]) for each in verdict.parts],
    }


def part_verdict_to_data(verdict: PartVerdict, part: Part) -> dict[str, object]:
    """One part's verdict with the limit and decision rule it was judged by, all numbers as text."""
    return {
        **_part_to_data(part),
        **verdict.verdict.to_data(),
        "measured": verdict.measured.value,
        "allowed": _allowed_words(part),
        "amounts": [
            {"value": exact_text(each.value), "unit": unit_of(each.unit).code} for each in verdict.amounts
        ],
        "notes": list(verdict.notes),
        "decision_rule": rule_to_data(part.decision_rule if isinstance(part, Point) else SIMPLE),
    }


def _allowed_words(part: Part) -> str:
    if isinstance(part.limit, DutyLimit):
        data = duty_to_data(part.limit)
        return f"at most {data['maximum_on']} s on, at least {data['minimum_rest']} s rest"
    return describe(part.limit)
