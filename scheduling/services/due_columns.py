"""Move what is due on aircraft whose counters or rates moved, column by column, writing only what changed.

This runs inside every posting of a flight, while it holds the write lock, and over whole fleets when rates are
measured: it reads and writes bare columns, for building model instances of a few hundred items takes several times
longer than the database itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from django.db import connection
from numpy.typing import NDArray

from scheduling.due.arrays import NONE, Ahead, Fleet, Ints, Items, moved
from scheduling.due.levels import ALREADY, NOTHING_LEFT
from scheduling.models import Applicability
from scheduling.services.due_facts import keep_changed

POINTS = tuple(
    f"{kind}_{counter}" for kind in ("due", "soon", "lawful") for counter in ("minutes", "landings", "cycles")
)
STANDS = ("soon_day", "unknown_day", "reached_day", "overdue_day")
DAYS = ("projected_day", "earliest_day", "latest_day", "order_day")
KEPT = ", ".join(f"COALESCE({name}, {NONE})" for name in ("due_day", *POINTS, *STANDS, *DAYS))
# Items that only the calendar brings about stay as they are; those that are not plain are reckoned anew.
COUNTED = f"""
SELECT applicability_id, is_plain, aircraft_id, {KEPT} FROM scheduling_duefact
WHERE aircraft_id IN ({{places}}) AND order_day < {NOTHING_LEFT}
  AND (NOT is_plain OR due_minutes IS NOT NULL OR due_landings IS NOT NULL OR due_cycles IS NOT NULL)
"""  # noqa: S608 - words of ours


def move_items(aircraft: Mapping[int, Ahead]) -> int:
    """Move every item on these aircraft to what follows from their counters and rates; how many changed.

    In the caller's transaction. Plain items follow from their own columns, the others are reckoned anew.
    """
    table = _table(COUNTED.format(places=", ".join(["%s"] * len(aircraft))), list(aircraft))
    if not table.size:
        return 0
    others = table[0, table[1] == 0].tolist()
    count = _move_plain(table[:, table[1] == 1], aircraft)
    if others:
        count += keep_changed(Applicability.objects.filter(pk__in=others, is_active=True))
    return count


def _table(statement: str, parameters: Sequence[Any]) -> NDArray[np.int64]:
    """The rows of a query of whole numbers, one column of it a row."""
    with connection.cursor() as cursor:
        cursor.execute(statement, parameters)
        return np.array(cursor.fetchall(), np.int64).T


def _move_plain(table: NDArray[np.int64], aircraft: Mapping[int, Ahead]) -> int:
    # a limit some thousand years away is as good as none
    keys, kept = table[0], np.minimum(table[3:], NONE).astype(np.int32)
    owners = np.array(list(aircraft))
    by_key = owners.argsort()
    owner = by_key[owners[by_key].searchsorted(table[2])]
    items = Items(owner, kept[0], kept[1:4], kept[4:7], kept[7:10], kept[10:14])
    fresh = moved(items, Fleet(list(aircraft.values())))
    is_changed = fresh != kept[10:18]
    stands, days = is_changed[:4].any(axis=0), is_changed[4:].any(axis=0)
    _, unknown, reached, overdue = fresh[:4, stands]
    told = np.stack([overdue == ALREADY, (unknown != ALREADY) | (reached == ALREADY)])
    _write(
        (*STANDS, "is_counter_overdue", "is_known"), keys[stands], np.concatenate([fresh[:4, stands], told])
    )
    _write(DAYS, keys[days], fresh[4:, days])
    return int((stands | days).sum())


def _write(names: Sequence[str], keys: NDArray[np.int64], columns: Ints) -> None:
    """Put new values into many rows: one prepared statement, or one statement for all where each costs a journey."""
    if not keys.size:
        return
    values = [
        _plain(column, is_flag=name.startswith("is_")) for name, column in zip(names, columns, strict=True)
    ]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(*_at_once(names, [*values, keys.tolist()]))
            return
        sets = ", ".join(f"{name} = %s" for name in names)
        cursor.executemany(
            f"UPDATE scheduling_duefact SET {sets} WHERE applicability_id = %s",  # noqa: S608 - names of ours
            list(zip(*values, keys.tolist(), strict=True)),
        )


def _plain(column: Ints, *, is_flag: bool) -> list[int | bool | None]:
    if is_flag:
        return [bool(value) for value in column.tolist()]
    return [None if value == NONE else value for value in column.tolist()]


def _at_once(names: Sequence[str], columns: Sequence[Iterable[int | bool | None]]) -> tuple[str, list[str]]:
    """One statement that takes every column as an array, written as text: adapting each value takes longer."""
    news = [f"new_{name}" for name in names]
    sets = ", ".join(f"{name} = {new}" for name, new in zip(names, news, strict=True))
    kinds = ["boolean" if name.startswith("is_") else "bigint" for name in names]
    arrays = ", ".join(f"%s::{kind}[]" for kind in (*kinds, "bigint"))
    statement = (
        f"UPDATE scheduling_duefact SET {sets} "  # noqa: S608 - names of ours
        f"FROM unnest({arrays}) AS fresh({', '.join(news)}, pk) WHERE applicability_id = fresh.pk"
    )
    return statement, [_array(column) for column in columns]


def _array(values: Iterable[int | bool | None]) -> str:
    return "{" + ",".join("NULL" if value is None else str(value) for value in values) + "}"
