"""What a request did: which rows it wrote in the end, and which of the policy's verbs it asked for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.db import connection, transaction

from fleet.common.actor import Actor, Verb

# Signing in, counting failed log-ins and remembering answers are not the operator's books.
BESIDE_THE_BOOKS = ("django_session", "axes_", "fleet_receipt")
WRITE = re.compile(r'^\s*(INSERT|UPDATE|DELETE|REPLACE)(?: OR \w+)?(?: INTO| FROM)?\s+["`]?(\w+)', re.I)
MARK = re.compile(r'^\s*SAVEPOINT\s+["`]?(\w+)', re.I)
BACK = re.compile(r'^\s*ROLLBACK TO (?:SAVEPOINT )?["`]?(\w+)', re.I)


@dataclass
class Journal:
    """What was written and not rolled back, as `INSERT fleet_base`; which verbs were asked for the asker."""

    asker: int | None = None
    writes: list[str] = field(default_factory=list)
    asked: list[tuple[Verb, bool]] = field(default_factory=list)
    marks: dict[str, int] = field(default_factory=dict)

    @property
    def books(self) -> list[str]:
        """What was written of the operator's books."""
        return [line for line in self.writes if not line.split()[1].startswith(BESIDE_THE_BOOKS)]

    @property
    def tables(self) -> set[str]:
        """The tables of the books that were written."""
        return {line.split()[1] for line in self.books}

    @property
    def needed(self) -> set[Verb]:
        """The verbs beyond reading that were asked for and granted."""
        return {verb for verb, granted in self.asked if granted} - {Verb.READ}

    def wrapper(self, execute: Any, statement: str, parameters: Any, many: bool, context: Any) -> Any:
        """Note a statement after it went through."""
        result = execute(statement, parameters, many, context)
        if found := MARK.match(statement):
            self.marks[found[1]] = len(self.writes)
        elif found := BACK.match(statement):
            del self.writes[self.marks[found[1]] :]
        elif (found := WRITE.match(statement)) and _hit(statement, context["cursor"].rowcount):
            self.writes.append(f"{found[1].upper()} {found[2]}")
        return result


def _hit(statement: str, count: int) -> bool:
    """Whether rows changed; an insert that returns its row counts none until it is read."""
    return count != 0 or statement.lstrip().upper().startswith(("INSERT", "REPLACE"))


@contextmanager
def journal(asker: int | None = None) -> Iterator[Journal]:
    """Note everything a request of somebody does, and take it back at the end."""
    notes = Journal(asker)
    may = Actor.may

    def noted(actor: Actor, verb: Verb) -> bool:
        granted = may(actor, verb)
        if actor.user_id == notes.asker:
            notes.asked.append((verb, granted))
        return granted

    Actor.may = noted  # type: ignore[method-assign]
    try:
        with transaction.atomic():
            with connection.execute_wrapper(notes.wrapper):
                yield notes
            transaction.set_rollback(True)
    finally:
        Actor.may = may  # type: ignore[method-assign]
