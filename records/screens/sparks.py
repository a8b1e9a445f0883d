"""A channel in small: its tests against its baseline and alarm limits, as places for a little drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fleet.common.scale import Scale

WIDTH, HEIGHT, EDGE = 300.0, 64.0, 8.0


@dataclass(frozen=True, slots=True)
class Spark:
    """Places in a box of 300 by 64: the line, the newest test, the baseline, the limits that are watched."""

    line: str
    last_x: str
    last_y: str
    baseline: str
    limits: tuple[str, ...]
    words: str


def spark_of(verdict: Mapping[str, Any] | None) -> Spark | None:
    """The drawing of a kept verdict; None while its baseline forms or before a second test."""
    points = (verdict or {}).get("points") or []
    if verdict is None or verdict.get("baseline") is None or len(points) < 2:
        return None
    limits = [verdict[name] for name in ("single_low", "single_high") if verdict.get(name) is not None]
    values = [point["value"] for point in points]
    reach = [*values, *limits, verdict["baseline"]]
    across = Scale(0, len(points) - 1, EDGE, WIDTH - EDGE)
    down = Scale(min(reach), max(reach), HEIGHT - EDGE, EDGE)
    places = [(across.at(number), down.at(value)) for number, value in enumerate(values)]
    return Spark(
        line=" ".join(f"{x:.1f},{y:.1f}" for x, y in places),
        last_x=f"{places[-1][0]:.1f}",
        last_y=f"{places[-1][1]:.1f}",
        baseline=f"{down.at(verdict['baseline']):.1f}",
        limits=tuple(f"{down.at(limit):.1f}" for limit in limits),
        words=f"{len(points)} tests, the newest {values[-1]:.1f} %",
    )
