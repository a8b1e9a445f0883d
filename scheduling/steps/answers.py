"""Does an answer have the form its step asks for? The sense of the values is judged in records. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from fleet.common.errors import Invalid, Reason
from fleet.quantities import RefusedInput, parse_decimal
from scheduling.limits.fields import Fields
from scheduling.steps.terms import Step, StepKind

METHODS = {"volume": ("method", "value", "unit"), "weighed": ("method", "gross", "tare", "celsius", "unit")}
LONGEST_TEXT = 300


def check_answer(step: Step, answer: object, outlets: frozenset[str] = frozenset()) -> None:
    """Refuse (`bad_answer`) an answer that lacks what the step asks for; every wrong field is named.

    `outlets` are the position codes this aircraft has in the step's zones.
    `check_answer(read_value_step, {"value": "28.1", "unit": "V"})` is silent.
    """
    reasons: list[Reason] = []
    if not isinstance(answer, Mapping):
        reasons.append(Reason("is not an object", "answer", str(answer)[:60], "send {…} as the step asks"))
    else:
        _only(answer, ASKED[step.kind], "", reasons)
        _CHECKS[step.kind](step, answer, reasons, outlets)
    if reasons:
        words = "; ".join(reason.sentence() for reason in reasons)
        raise Invalid("bad_answer", f"Step “{step.title}”: {words}", *reasons)


ASKED: dict[StepKind, tuple[str, ...]] = {
    StepKind.CHECK: ("done", "note"),
    StepKind.SET_CONTROL: ("done", "note"),
    StepKind.READ_VALUE: ("value", "unit"),
    StepKind.TIMED_RUN: ("started_at", "stopped_at"),
    StepKind.DUTY_RUN: ("runs",),
    StepKind.OUTLETS: ("outlets",),
    StepKind.COLLECT: ("sides",),
    StepKind.CAUTION: ("acknowledged",),
    StepKind.NOTE: ("read",),
    StepKind.PHOTO: ("photo_key",),
}


def _only(row: Mapping[str, Any], known: tuple[str, ...], where: str, reasons: list[Reason]) -> None:
    """What is kept is sealed as it stands: nothing that the step does not ask for may slip in."""
    for name in row:
        if name not in known:
            _complain(
                reasons, f"{where}{name}", row[name], "is not asked for here", f"use only: {', '.join(known)}"
            )


Check = Callable[[Step, Mapping[str, Any], list[Reason], frozenset[str]], None]


def _done(_step: Step, answer: Mapping[str, Any], reasons: list[Reason], _outlets: frozenset[str]) -> None:
    if not isinstance(answer.get("done"), bool):
        _complain(reasons, "done", answer.get("done"), "is neither yes nor no", "answer yes or no")
    note = answer.get("note", "")
    if not isinstance(note, str) or len(note) > LONGEST_TEXT:
        _complain(reasons, "note", "…", "is no short text", f"use at most {LONGEST_TEXT} characters")


def _flag(name: str) -> Check:
    def check(
        _step: Step, answer: Mapping[str, Any], reasons: list[Reason], _outlets: frozenset[str]
    ) -> None:
        if answer.get(name) is not True:
            _complain(reasons, name, answer.get(name), "is not confirmed", "confirm it to go on")

    return check


def _value(_step: Step, answer: Mapping[str, Any], reasons: list[Reason], _outlets: frozenset[str]) -> None:
    _reading(answer, "", ("value",), reasons)


def _reading(row: Mapping[str, Any], where: str, names: tuple[str, ...], reasons: list[Reason]) -> None:
    fields = Fields(row, where, tuple(row))
    fields.unit()
    for name in names:
        fields.decimal(name, least=None if name in ("value", "celsius") else "0")
    reasons.extend(fields.reasons)


def _moment(row: Mapping[str, Any], name: str, where: str, reasons: list[Reason]) -> datetime | None:
    written = row.get(name)
    try:
        moment = datetime.fromisoformat(written) if isinstance(written, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        _complain(
            reasons, f"{where}{name}", written, "is no moment with a zone", "write 2026-01-15T09:30:00Z"
        )
        return None
    return moment


def _span(row: Mapping[str, Any], names: tuple[str, str], where: str, reasons: list[Reason]) -> None:
    begin, end = (_moment(row, name, where, reasons) for name in names)
    if begin and end and end <= begin:
        _complain(
            reasons, f"{where}{names[1]}", row.get(names[1]), f"is not after {names[0]}", "check both times"
        )


def _timed(_step: Step, answer: Mapping[str, Any], reasons: list[Reason], _outlets: frozenset[str]) -> None:
    _span(answer, ("started_at", "stopped_at"), "", reasons)


def _duty(_step: Step, answer: Mapping[str, Any], reasons: list[Reason], _outlets: frozenset[str]) -> None:
    runs = answer.get("runs")
    if not isinstance(runs, list) or not runs or not all(isinstance(run, Mapping) for run in runs):
        _complain(reasons, "runs", runs, "is not a list of runs", 'send [{"on_at": …, "off_at": …}]')
        return
    for index, run in enumerate(runs):
        _only(run, ("on_at", "off_at"), f"runs.{index}.", reasons)
        _span(run, ("on_at", "off_at"), f"runs.{index}.", reasons)


def _outlet_rows(
    step: Step, answer: Mapping[str, Any], reasons: list[Reason], outlets: frozenset[str]
) -> None:
    rows = answer.get("outlets")
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        _complain(reasons, "outlets", rows, "is not a list of outlets", 'send [{"position": …, "wet": …}]')
        return
    named = [str(row.get("position")) for row in rows]
    for index, row in enumerate(rows):
        _outlet(row, f"outlets.{index}.", step, reasons, outlets)
    for twice in sorted({name for name in named if named.count(name) > 1}):
        _complain(reasons, "outlets", twice, "is named twice", "name each outlet once")
    for missing in sorted(outlets - set(named)):
        _complain(reasons, "outlets", missing, "is missing", "say whether it wetted")


def _outlet(
    row: Mapping[str, Any], where: str, step: Step, reasons: list[Reason], outlets: frozenset[str]
) -> None:
    _only(row, ("position", "wet", "seconds"), where, reasons)
    position = row.get("position")
    if not isinstance(position, str) or position not in outlets:
        zones = ", ".join(step.zones)
        _complain(
            reasons, f"{where}position", row.get("position"), f"is no outlet of {zones}", "use the outlet map"
        )
    if not isinstance(row.get("wet"), bool):
        _complain(reasons, f"{where}wet", row.get("wet"), "is neither wet nor dry", "answer wet or dry")
    if row.get("wet") is True or row.get("seconds") is not None:
        try:
            if parse_decimal(row.get("seconds"), field=f"{where}seconds") < 0:
                _complain(reasons, f"{where}seconds", row.get("seconds"), "is below 0", "write 0 or more")
        except RefusedInput as refusal:
            reasons.extend(refusal.reasons)


def _collected(
    step: Step, answer: Mapping[str, Any], reasons: list[Reason], _outlets: frozenset[str]
) -> None:
    sides = answer.get("sides")
    if not isinstance(sides, Mapping):
        _complain(reasons, "sides", sides, "is not an object", 'send {"left": {…}, "right": {…}}')
        return
    _only(sides, tuple(side for side, _ in step.side_points), "sides.", reasons)
    for side, _ in step.side_points:
        row = sides.get(side)
        if not isinstance(row, Mapping) or str(row.get("method")) not in METHODS:
            _complain(
                reasons, f"sides.{side}", "", "has no reading", f"choose a method: {', '.join(METHODS)}"
            )
            continue
        _only(row, METHODS[row["method"]], f"sides.{side}.", reasons)
        names = ("value",) if row["method"] == "volume" else ("gross", "tare", "celsius")
        _reading(row, f"sides.{side}", names, reasons)


def _photo(_step: Step, answer: Mapping[str, Any], reasons: list[Reason], _outlets: frozenset[str]) -> None:
    if not isinstance(answer.get("photo_key"), str) or not answer["photo_key"]:
        _complain(reasons, "photo_key", answer.get("photo_key"), "is missing", "send the photo first")


def _complain(reasons: list[Reason], field: str, value: object, detail: str, remedy: str) -> None:
    reasons.append(Reason(detail, field, "" if value is None else str(value)[:60], remedy))


_CHECKS: dict[StepKind, Check] = {
    StepKind.CHECK: _done,
    StepKind.SET_CONTROL: _done,
    StepKind.READ_VALUE: _value,
    StepKind.TIMED_RUN: _timed,
    StepKind.DUTY_RUN: _duty,
    StepKind.OUTLETS: _outlet_rows,
    StepKind.COLLECT: _collected,
    StepKind.CAUTION: _flag("acknowledged"),
    StepKind.NOTE: _flag("read"),
    StepKind.PHOTO: _photo,
}
