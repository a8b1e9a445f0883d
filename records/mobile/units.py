"""The server's units as a script of the phone, so that both convert with the same exact factors."""

from __future__ import annotations

import json
from pathlib import Path

from fleet.quantities import UNITS, exact_text, units_also_written

UNITS_FILE = Path(__file__).parents[1] / "static" / "records" / "mobile" / "judge" / "units.js"
HEAD = "// Written by `manage.py write_phone_units` from fleet/quantities.py: dimension, factor, offset, symbol.\n"


def units_script() -> str:
    """The whole script; `tests/mobile` checks that the kept file says the same."""
    units = {
        unit.code: [unit.dimension.value, exact_text(unit.factor), exact_text(unit.offset), unit.symbol]
        for unit in UNITS.values()
    }
    also_written, ambiguous = units_also_written()
    tables = (("UNITS", units), ("ALSO_WRITTEN", also_written), ("AMBIGUOUS", ambiguous))
    return HEAD + "".join(
        f"\nexport const {name} = Object.freeze({_object(table)});\n" for name, table in tables
    )


def _object(table: dict[str, list[str]] | dict[str, str]) -> str:
    rows = [f"  {_json(name)}: {_json(value)},\n" for name, value in table.items()]
    return "{\n" + "".join(rows) + "}"


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)
