"""Guards the database itself enforces, written once for SQLite and once for PostgreSQL.

Used by migrations only. Django rebuilds SQLite tables in later migrations and drops their triggers with
them: `tests/fleet/test_guards.py` asserts that every guard named here still stands after migrating.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

MigrationCode = Callable[[Any, BaseDatabaseSchemaEditor], None]


@dataclass(frozen=True, slots=True)
class Guard:
    """One trigger: refuse `when` (SQL over NEW and OLD) on `event` of `table` with `message`."""

    name: str
    table: str
    event: str
    message: str
    when: str = "TRUE"

    def sqlite(self) -> str:
        """The statement for SQLite."""
        when = self.when.replace("TRUE", "1") if self.when == "TRUE" else self.when
        return (
            f"CREATE TRIGGER {self.name} BEFORE {self.event} ON {self.table} FOR EACH ROW WHEN {when} "
            f"BEGIN SELECT RAISE(ABORT, '{self.message}'); END"
        )

    def postgresql(self) -> list[str]:
        """The function and the trigger for PostgreSQL."""
        body = (
            f"CREATE FUNCTION {self.name}_fn() RETURNS trigger LANGUAGE plpgsql AS $body$ BEGIN "
            f"IF {self.when} THEN RAISE EXCEPTION '{self.message}' USING ERRCODE = 'integrity_constraint_violation'; "
            f"END IF; {'RETURN OLD;' if self.event == 'DELETE' else 'RETURN NEW;'} END $body$"
        )
        trigger = (
            f"CREATE TRIGGER {self.name} BEFORE {self.event} ON {self.table} "
            f"FOR EACH ROW EXECUTE FUNCTION {self.name}_fn()"
        )
        return [body, trigger]


def append_only(table: str) -> list[Guard]:
    """Rows of this table are never changed and never deleted."""
    return [
        Guard(f"{table}_no_update", table, "UPDATE", f"{table} is append-only: rows are never changed"),
        Guard(f"{table}_no_delete", table, "DELETE", f"{table} is append-only: rows are never deleted"),
    ]


def install(guards: list[Guard]) -> migrations.RunPython:
    """A reversible migration operation that installs the guards on whichever database this is."""
    return migrations.RunPython(_putting_up(guards), _taking_down(guards))


def lift(guards: list[Guard]) -> migrations.RunPython:
    """The opposite of `install`: before a guarded table is altered; install the guards again afterwards."""
    return migrations.RunPython(_taking_down(guards), _putting_up(guards))


def _putting_up(guards: list[Guard]) -> MigrationCode:
    def forwards(_apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
        for guard in guards:
            if schema_editor.connection.vendor == "sqlite":
                schema_editor.execute(guard.sqlite(), params=None)
            else:
                for statement in guard.postgresql():
                    schema_editor.execute(statement, params=None)

    return forwards


def _taking_down(guards: list[Guard]) -> MigrationCode:
    def backwards(_apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
        for guard in guards:
            if schema_editor.connection.vendor == "sqlite":
                schema_editor.execute(f"DROP TRIGGER IF EXISTS {guard.name}", params=None)
            else:
                schema_editor.execute(f"DROP FUNCTION IF EXISTS {guard.name}_fn() CASCADE", params=None)

    return backwards
