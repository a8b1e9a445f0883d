"""What tests with real commits share: on SQLite the guards stand aside while the tables are emptied."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import connection
from django.test import TransactionTestCase


@pytest.fixture(scope="session", autouse=True)
def guards_lifted_while_emptying() -> Iterator[None]:
    """SQLite empties tables row by row, which its own guards forbid: they are put up again afterwards."""
    emptying = TransactionTestCase._fixture_teardown

    def without_guards(case: TransactionTestCase) -> None:
        if connection.vendor != "sqlite":
            emptying(case)
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            guards = cursor.fetchall()
            for name, _ in guards:
                cursor.execute(f"DROP TRIGGER {name}")
        emptying(case)
        with connection.cursor() as cursor:
            for _, statement in guards:
                cursor.execute(statement)

    TransactionTestCase._fixture_teardown = without_guards  # type: ignore[method-assign]
    yield
    TransactionTestCase._fixture_teardown = emptying  # type: ignore[method-assign]
