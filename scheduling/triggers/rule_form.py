"""Reading a trigger rule from plain data (a form, JSON, a fixture), naming every wrong field at once.

Pure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from scheduling.triggers.terms import Before, BeforeKind, Id, RaiseFacts, RuleFacts, Where

LISTS = ("positions", "component_types", "options_required", "options_absent", "aircraft_types")
RULE_FIELDS = ("id", "code", "version", "event_kind", "where", "raises", "enabled")
RAISE_FIELDS = ("order", "procedure_code", "title", "before", "reason", "per_position")
WITH_AMOUNT = (BeforeKind.WITHIN_DAYS, BeforeKind.WITHIN_HOURS)


@dataclass(frozen=True, slots=True)
class FieldError:
    """One wrong field: its path, the value as given, what is wrong and what to do about it."""

    field: str
    value: str
    detail: str
    remedy: str


class BadRule(ValueError):
    """The data is no rule; `errors` names every wrong field."""

    def __init__(self, errors: tuple[FieldError, ...]) -> None:
        super().__init__("; ".join(f"{e.field}: {e.detail}" for e in errors))
        self.errors = errors


@dataclass(frozen=True, slots=True)
class Known:
    """What may be named in a rule; None means anything goes."""

    event_kinds: Collection[str] | None = None
    procedure_codes: Collection[str] | None = None
    options: Collection[str] | None = None


@dataclass(slots=True)
class _Reading:
    known: Known
    errors: list[FieldError] = field(default_factory=list)

    def refuse(self, name: str, value: object, detail: str, remedy: str) -> None:
        """Note one wrong field and read on."""
        self.errors.append(FieldError(name, "" if value is None else str(value), detail, remedy))

    def text(self, data: Mapping[str, object], name: str, path: str) -> str:
        """A text that must not be empty."""
        value = data.get(name)
        if not isinstance(value, str) or not value.strip():
            self.refuse(path, value, "is empty or no text", "write a text")
            return ""
        return value.strip()

    def whole(self, data: Mapping[str, object], name: str, path: str) -> int:
        """A whole number of 1 or more."""
        value = data.get(name)
        if not isinstance(value, int) or isinstance(value, bool) or value < 1:
            self.refuse(path, value, "is not a whole number of 1 or more", "write 1, 2, 3 …")
            return 1
        return value

    def flag(self, data: Mapping[str, object], name: str, path: str, *, default: bool) -> bool:
        """True or false; left out means the default."""
        value = data.get(name, default)
        if not isinstance(value, bool):
            self.refuse(path, value, "is neither true nor false", "write true or false")
        return value is True

    def listed(self, value: str, allowed: Collection[str] | None, path: str) -> None:
        """A name that must be known where a list of names is given."""
        if value and allowed is not None and value not in allowed:
            self.refuse(path, value, "is not known", f"choose one of {', '.join(sorted(allowed))}")

    def no_strangers(self, data: Mapping[str, object], allowed: tuple[str, ...], path: str) -> None:
        """Unknown fields are refused: a misspelt condition would otherwise match everything."""
        for name in sorted(set(data) - set(allowed)):
            self.refuse(f"{path}{name}", data[name], "is not a field of this", f"use {', '.join(allowed)}")


def rule_from_data(data: Mapping[str, object], known: Known | None = None) -> RuleFacts:
    """Read a rule from plain data; raises `BadRule` with every wrong field.

    Example: `{"id": 1, "code": "panel", "version": 1, "event_kind": "panel_replaced", "raises": [{"order": 1,
    "procedure_code": "PURGE", "title": "Panel purge", "before": {"kind": "next_flight"}}]}`.
    """
    reading = _Reading(known or Known())
    reading.no_strangers(data, RULE_FIELDS, "")
    identity = data.get("id")
    event_kind = reading.text(data, "event_kind", "event_kind")
    reading.listed(event_kind, reading.known.event_kinds, "event_kind")
    rule = RuleFacts(
        id=_identity(reading, identity),
        code=reading.text(data, "code", "code"),
        version=reading.whole(data, "version", "version"),
        event_kind=event_kind,
        where=_where(reading, data.get("where")),
        raises=_raises(reading, data.get("raises")),
        enabled=reading.flag(data, "enabled", "enabled", default=True),
    )
    if reading.errors:
        raise BadRule(tuple(reading.errors))
    return rule


def _identity(reading: _Reading, identity: object) -> Id:
    if isinstance(identity, int | str) and not isinstance(identity, bool) and identity != "":
        return identity
    reading.refuse("id", identity, "is missing", "give the rule an id")
    return 0


def _where(reading: _Reading, data: object) -> Where:
    if data is None:
        return Where()
    if not isinstance(data, Mapping):
        reading.refuse("where", data, "is no group of conditions", f"use the fields {', '.join(LISTS)}")
        return Where()
    reading.no_strangers(data, LISTS, "where.")
    lists = {name: _names(reading, data.get(name), f"where.{name}") for name in LISTS}
    required, absent = frozenset(lists["options_required"]), frozenset(lists["options_absent"])
    for option in sorted(required | absent):
        reading.listed(option, reading.known.options, "where.options")
    for option in sorted(required & absent):
        reading.refuse(
            "where.options_absent", option, "is also required", "ask for it fitted or absent, not both"
        )
    return Where(
        positions=lists["positions"],
        component_types=frozenset(lists["component_types"]),
        options_required=required,
        options_absent=absent,
        aircraft_types=frozenset(lists["aircraft_types"]),
    )


def _names(reading: _Reading, value: object, path: str) -> tuple[str, ...]:
    if value is None:
        return ()
    if not isinstance(value, list | tuple | set | frozenset):
        reading.refuse(path, value, "is not a list", "write a list of names")
        return ()
    names = tuple(value) if isinstance(value, list | tuple) else tuple(sorted(value, key=str))
    for name in names:
        if not isinstance(name, str) or not name.strip():
            reading.refuse(path, name, "holds an empty name", "leave it out or write a name")
    return tuple(str(name) for name in names)


def _raises(reading: _Reading, data: object) -> tuple[RaiseFacts, ...]:
    if not isinstance(data, list | tuple) or not data:
        reading.refuse("raises", data, "raises no task", "list at least one task")
        return ()
    found = tuple(_raise(reading, entry, f"raises[{place}]") for place, entry in enumerate(data))
    raises = tuple(raised for raised in found if raised is not None)
    for code, times in Counter(raised.procedure_code for raised in raises).items():
        if code and times > 1:
            reading.refuse("raises", code, f"is raised {times} times", "raise each procedure once")
    last = max((raised.order for raised in raises), default=0)
    for place, raised in enumerate(raises):
        if raised.before.kind is BeforeKind.NEXT_TASK and raised.order == last:
            reading.refuse(
                f"raises[{place}].before", "next_task", "no task follows the last one", "choose another limit"
            )
    return tuple(sorted(raises, key=lambda raised: (raised.order, raised.procedure_code)))


def _raise(reading: _Reading, entry: object, path: str) -> RaiseFacts | None:
    if not isinstance(entry, Mapping):
        reading.refuse(path, entry, "is no task", f"use the fields {', '.join(RAISE_FIELDS)}")
        return None
    reading.no_strangers(entry, RAISE_FIELDS, f"{path}.")
    code = reading.text(entry, "procedure_code", f"{path}.procedure_code")
    per_position = reading.flag(entry, "per_position", f"{path}.per_position", default=False)
    reading.listed(code, reading.known.procedure_codes, f"{path}.procedure_code")
    return RaiseFacts(
        order=reading.whole(entry, "order", f"{path}.order"),
        procedure_code=code,
        title=reading.text(entry, "title", f"{path}.title"),
        before=_before(reading, entry.get("before"), f"{path}.before"),
        reason=str(entry.get("reason") or ""),
        per_position=per_position,
    )


def _before(reading: _Reading, data: object, path: str) -> Before:
    kinds = ", ".join(BeforeKind)
    fallback = Before(BeforeKind.NEXT_FLIGHT)
    if not isinstance(data, Mapping) or data.get("kind") not in tuple(BeforeKind):
        given = data.get("kind") if isinstance(data, Mapping) else data
        reading.refuse(f"{path}.kind", given, "is no limit", f"choose one of {kinds}")
        return fallback
    reading.no_strangers(data, ("kind", "amount"), f"{path}.")
    kind = BeforeKind(data["kind"])
    if kind in WITH_AMOUNT:
        return Before(kind, reading.whole(data, "amount", f"{path}.amount"))
    if data.get("amount") is not None:
        reading.refuse(f"{path}.amount", data["amount"], "has no meaning here", "leave the amount out")
    return Before(kind)
