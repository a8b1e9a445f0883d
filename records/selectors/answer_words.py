"""What was entered at a step, in words. The form of the answer says which kind of step it was."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from fleet.common.wording import counted, quantity, zone_name
from fleet.quantities import unit_of


def answer_words(answer: Mapping[str, Any], zone: str = "UTC") -> str:
    """One answer as a line: `answer_words({"value": "28.1", "unit": "V"})` is "28.1 V"."""
    for name, write in _WRITERS.items():
        if name in answer:
            return write(answer, zone)
    return "answered"


def seconds_words(seconds: Decimal) -> str:
    """A length of time to the tenth of a second: `seconds_words(Decimal("241.27"))` is "4 min 1.3 s"."""
    minutes, rest = divmod(round(seconds, 1), 60)
    short = format(rest.normalize() if rest % 1 else rest.quantize(Decimal(1)), "f")
    return f"{int(minutes)}\u00a0min {short}\u00a0s" if minutes else f"{short}\u00a0s"


def with_unit(value: object, unit: object) -> str:
    """A value as written with its unit as people read it: "21.5 °C"."""
    return quantity(str(value), unit_of(str(unit)).label)


def _done(answer: Mapping[str, Any], _zone: str) -> str:
    words = "done" if answer["done"] else "not as asked"
    return f"{words}: {answer['note']}" if answer.get("note") else words


def _value(answer: Mapping[str, Any], _zone: str) -> str:
    return with_unit(answer["value"], answer["unit"])


def _length(begin: str, end: str) -> Decimal:
    took = datetime.fromisoformat(end) - datetime.fromisoformat(begin)
    return Decimal(took // timedelta(milliseconds=1)) / 1000


def _timed(answer: Mapping[str, Any], zone: str) -> str:
    begin, end = answer["started_at"], answer["stopped_at"]
    local = datetime.fromisoformat(begin).astimezone(ZoneInfo(zone))
    return f"{seconds_words(_length(begin, end))}, from {local:%H:%M:%S} {zone_name(local)}"


def _duty(answer: Mapping[str, Any], _zone: str) -> str:
    runs = answer["runs"]
    parts = []
    for number, run in enumerate(runs):
        if number:
            parts.append(f"{seconds_words(_length(runs[number - 1]['off_at'], run['on_at']))} rest")
        parts.append(f"{seconds_words(_length(run['on_at'], run['off_at']))} on")
    return f"{counted(len(runs), 'run')}: {', '.join(parts)}"


def _outlets(answer: Mapping[str, Any], _zone: str) -> str:
    rows = answer["outlets"]
    if not rows:
        return "none on this aircraft"
    wet = [row for row in rows if row["wet"]]
    dry = [str(row["position"]) for row in rows if not row["wet"]]
    words = f"{len(wet)} of {counted(len(rows), 'outlet')} wet"
    if wet:
        slowest = max(wet, key=lambda row: Decimal(str(row["seconds"])))
        words += f", slowest {slowest['position']} after {seconds_words(Decimal(str(slowest['seconds'])))}"
    return f"{words}; dry: {', '.join(dry)}" if dry else words


def _sides(answer: Mapping[str, Any], _zone: str) -> str:
    return "; ".join(f"{side} {_side(row)}" for side, row in answer["sides"].items())


def _side(row: Mapping[str, Any]) -> str:
    if row["method"] == "volume":
        return with_unit(row["value"], row["unit"])
    gross, tare = with_unit(row["gross"], row["unit"]), with_unit(row["tare"], row["unit"])
    return f"{gross} gross, {tare} tare, {with_unit(row['celsius'], 'degC')}"


_WRITERS: dict[str, Callable[[Mapping[str, Any], str], str]] = {
    "done": _done,
    "value": _value,
    "started_at": _timed,
    "runs": _duty,
    "outlets": _outlets,
    "sides": _sides,
    "acknowledged": lambda _answer, _zone: "understood",
    "read": lambda _answer, _zone: "read",
    "photo_key": lambda _answer, _zone: "photograph kept",
}
