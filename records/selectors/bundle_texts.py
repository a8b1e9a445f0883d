"""A procedure's text cut to what one aircraft's options call for, and the previous result beside its limits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from records.models import SignedRecord
from scheduling.limits.kinds import describe
from scheduling.steps.parse import procedure_from_data


def text_for(content: Mapping[str, Any], options: frozenset[str]) -> dict[str, Any]:
    """The stored text with only the steps, points and equipment of this aircraft; each limit also in words."""
    read = procedure_from_data(content)
    steps = {step.key for step in read.steps_for(options)}
    roles = {need.role for need in read.equipment_for(options)}
    allowed = {point.key: describe(point.limit) for point in read.points_for(options)}
    return {
        **content,
        "steps": [step for step in content["steps"] if step["key"] in steps],
        "equipment": [need for need in content.get("equipment", []) if need["role"] in roles],
        "points": [
            {**point, "allowed": allowed[point["key"]]}
            for point in content.get("points", [])
            if point["key"] in allowed
        ],
    }


def readings_of(record: SignedRecord) -> list[dict[str, str]]:
    """What was measured then, with the limits it was judged by."""
    parts = record.run.verdict_detail.get("parts", []) if record.run is not None else []
    return [
        {
            "point": part["key"],
            "name": part["label"],
            "value": part["amounts"][0]["value"] if part["amounts"] else (part["value"] or ""),
            "unit": part["amounts"][0]["unit"] if part["amounts"] else part["unit"],
            "allowed": part["allowed"],
            "verdict": part["outcome"],
            "margin": part["margin_shown"] or "",
        }
        for part in parts
        if part["part"] in ("point", "precondition")
    ]
