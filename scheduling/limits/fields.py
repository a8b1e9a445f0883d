"""Read a JSON object field by field and report every wrong field at once. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from fleet.common.errors import Reason
from fleet.quantities import RefusedInput, parse_decimal, unit_of

Choice = TypeVar("Choice", bound=StrEnum)


class Fields:
    """Collects reasons while reading; `finish()` raises RefusedInput when there is any."""

    def __init__(self, data: object, where: str, known: tuple[str, ...]) -> None:
        self.where = where
        self.reasons: list[Reason] = []
        if not isinstance(data, Mapping):
            self.values: Mapping[str, object] = {}
            self._complain("", data, "is not an object", 'send {"kind": …}')
            return
        self.values = data
        for name in data:
            if name not in known:
                self._complain(str(name), data[name], "is not a field here", f"use only: {', '.join(known)}")

    def decimal(self, name: str, *, least: str | None = None, above: str | None = None) -> Decimal:
        """A required decimal, at least `least`, above `above`."""
        try:
            value = parse_decimal(self.values.get(name), field=self.path(name))
        except RefusedInput as refusal:
            self.reasons.extend(refusal.reasons)
            return Decimal(1)
        if least is not None and value < Decimal(least):
            self._complain(name, value, f"is below {least}", f"write {least} or more")
        if above is not None and value <= Decimal(above):
            self._complain(name, value, f"must be above {above}", f"write more than {above}")
        return value

    def optional_decimal(self, name: str, default: str, *, least: str | None = None) -> Decimal:
        """A decimal, or the default where the field is missing."""
        return Decimal(default) if self.values.get(name) is None else self.decimal(name, least=least)

    def choice(self, name: str, choices: type[Choice], default: Choice) -> Choice:
        """One of the words of an enumeration, or the default where the field is missing."""
        written = self.values.get(name, default.value)
        for each in choices:
            if written == each.value:
                return each
        self._complain(name, written, "is not one of the words here", f"use one of: {', '.join(choices)}")
        return default

    def unit(self, name: str = "unit") -> str:
        """A required unit code."""
        written = self.values.get(name)
        if not isinstance(written, str) or not written.strip():
            self._complain(name, written, "is missing", "name the unit, such as mL, s or V")
            return "1"
        try:
            return unit_of(written, field=self.path(name)).code
        except RefusedInput as refusal:
            self.reasons.extend(refusal.reasons)
            return "1"

    def text(self, name: str, default: str | None = None) -> str:
        """A text; required where no default is given."""
        written = self.values.get(name, default)
        if isinstance(written, str) and (written.strip() or default is not None):
            return written.strip()
        self._complain(name, written, "is missing or is no text", "write a few words")
        return ""

    def whole(self, name: str, default: int, *, least: int) -> int:
        """A whole number, or the default where the field is missing."""
        written = self.values.get(name, default)
        if isinstance(written, int) and not isinstance(written, bool) and written >= least:
            return written
        self._complain(
            name, written, "is not a whole number in range", f"write a whole number, {least} or more"
        )
        return default

    def flag(self, name: str) -> bool:
        """True or false; false where the field is missing."""
        written = self.values.get(name, False)
        if isinstance(written, bool):
            return written
        self._complain(name, written, "is neither true nor false", "send true or false")
        return False

    def path(self, name: str) -> str:
        """The field's full name: `limit.minimum`."""
        return f"{self.where}.{name}".strip(".")

    def complain(self, name: str, detail: str, remedy: str) -> None:
        """Add a reason about a field that was readable but makes no sense."""
        self._complain(name, self.values.get(name), detail, remedy)

    def _complain(self, name: str, value: object, detail: str, remedy: str) -> None:
        given = "" if value is None else str(value)[:60]
        self.reasons.append(Reason(detail=detail, field=self.path(name), value=given, remedy=remedy))

    def finish(self, code: str) -> None:
        """Raise RefusedInput with every reason collected, or do nothing."""
        if self.reasons:
            raise RefusedInput(code, "; ".join(reason.sentence() for reason in self.reasons), *self.reasons)
