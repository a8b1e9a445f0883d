"""Taking the database's own guards off for a moment, to play somebody with full rights over it."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection


@contextmanager
def without_guards(*tables: str) -> Iterator[None]:
    """The tables take changes while inside; afterwards their guards stand again."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            # Checks of keys still waiting for the commit would stand in the way of altering the table.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            for table in tables:
                cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            yield
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            for table in tables:
                cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        return
    with connection.cursor() as cursor:
        marks = ", ".join(["%s"] * len(tables))
        cursor.execute(
            f"SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN ({marks})", tables
        )
        kept = cursor.fetchall()
        for name, _ in kept:
            cursor.execute(f"DROP TRIGGER {name}")
        yield
        for _, sql in kept:
            cursor.execute(sql)
