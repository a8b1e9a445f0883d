"""An answer to a step as one or a few lines of plain text."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from fleet.quantities import unit_of


def answer_text(answer: Mapping[str, Any]) -> str:
    """`answer_text({"value": "28.1", "unit": "V"})` is "28.1 V"; an unknown form is written as it stands."""
    for field, words in _FORMS.items():
        if field in answer:
            return words(answer)
    return ", ".join(f"{name}: {value}" for name, value in answer.items())


def _done(answer: Mapping[str, Any]) -> str:
    note = answer.get("note", "")
    return ("yes" if answer["done"] else "no") + (f" – {note}" if note else "")


def _value(answer: Mapping[str, Any]) -> str:
    return f"{answer['value']} {unit_of(answer['unit']).label}"


def _timed(answer: Mapping[str, Any]) -> str:
    return f"{_seconds(answer['started_at'], answer['stopped_at'])} s"


def _seconds(begin: str, end: str) -> str:
    took = datetime.fromisoformat(end) - datetime.fromisoformat(begin)
    milliseconds = took // timedelta(milliseconds=1)
    whole, rest = divmod(milliseconds, 1000)
    return f"{whole}.{rest:03d}".rstrip("0").rstrip(".")


def _runs(answer: Mapping[str, Any]) -> str:
    runs = [_seconds(run["on_at"], run["off_at"]) for run in answer["runs"]]
    return f"{len(runs)} runs: {', '.join(runs)} s on"


def _outlets(answer: Mapping[str, Any]) -> str:
    wet = [row for row in answer["outlets"] if row["wet"]]
    dry = [row["position"] for row in answer["outlets"] if not row["wet"]]
    longest = max((float(row["seconds"]) for row in wet), default=0)
    said = f"{len(wet)} of {len(answer['outlets'])} wet, the slowest after {longest:g} s"
    return f"{said}; dry: {', '.join(dry)}" if dry else said


def _sides(answer: Mapping[str, Any]) -> str:
    return "\n".join(f"{side}: {_side(row)}" for side, row in answer["sides"].items())


def _side(row: Mapping[str, Any]) -> str:
    unit = unit_of(row["unit"]).label
    if row["method"] == "weighed":
        return f"{row['gross']} {unit} gross, {row['tare']} {unit} tare at {row['celsius']} °C"
    return f"{row['value']} {unit}"


_FORMS: dict[str, Callable[[Mapping[str, Any]], str]] = {
    "done": _done,
    "value": _value,
    "started_at": _timed,
    "runs": _runs,
    "outlets": _outlets,
    "sides": _sides,
    "acknowledged": lambda _: "acknowledged",
    "read": lambda _: "read",
    "photo_key": lambda _: "photograph taken",
}
