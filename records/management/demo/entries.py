"""What a technician enters at every step of a procedure when all goes as it should, apart from the flow measured."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from fleet.models import Aircraft
from fleet.selectors.aircraft import options_of, outlets_of
from records.gather.judging import definition_for
from records.judge.bench_run import RunDefinition
from scheduling.models import ProcedureVersion
from scheduling.steps.parse import procedure_from_data
from scheduling.steps.terms import ProcedureContent, Step, StepKind

NOMINAL_ML = 1500
TARE_G = 412


@dataclass(frozen=True, slots=True)
class Sheet:
    """A procedure as one aircraft sees it."""

    version: ProcedureVersion
    content: ProcedureContent
    options: frozenset[str]
    outlets: Mapping[str, tuple[str, ...]]
    definition: RunDefinition

    @property
    def steps(self) -> tuple[Step, ...]:
        """The steps that need an answer here, in order."""
        return tuple(step for step in self.content.steps_for(self.options) if step.needs_answer)


def sheet_of(aircraft: Aircraft, version: ProcedureVersion) -> Sheet:
    """Read a procedure for an aircraft."""
    content, options = procedure_from_data(version.content), options_of(aircraft)
    outlets = {
        step.key: tuple(outlets_of(aircraft, step.zones).values_list("code", flat=True))
        for step in content.steps_for(options)
        if step.kind is StepKind.OUTLETS
    }
    wet = {key: frozenset(codes) for key, codes in outlets.items()}
    return Sheet(version, content, options, outlets, definition_for(content, options, wet))


@dataclass(frozen=True, slots=True)
class Flow:
    """What each side gives in per cent of nominal; `density` in g/mL where it is weighed instead of read."""

    left: float = 100.0
    right: float = 100.0
    density: float | None = None


@dataclass(frozen=True, slots=True)
class Answered:
    """One step answered."""

    step: str
    answer: dict[str, Any]
    at: datetime


@dataclass
class Hands:
    """Somebody works through a sheet from a moment on; `chance` makes no two runs alike."""

    sheet: Sheet
    begin: datetime
    flow: Flow
    chance: random.Random
    photo_key: str = "photo"
    ran_seconds: float = field(default=240.0, init=False)
    clock: datetime = field(init=False)

    def answers(self) -> Iterator[Answered]:
        """Every step in order, at moments spread over the time the work takes."""
        self.clock = self.begin
        pace = timedelta(minutes=self.sheet.version.minutes) / (len(self.sheet.steps) + 1)
        for number, step in enumerate(self.sheet.steps, start=1):
            self.clock = max(self.clock + timedelta(seconds=20), self.begin + pace * number).replace(
                microsecond=0
            )
            answer = self._answer(step)
            yield Answered(step.key, answer, self.clock)

    def _answer(self, step: Step) -> dict[str, Any]:
        match step.kind:
            case StepKind.CHECK | StepKind.SET_CONTROL:
                return {"done": True}
            case StepKind.CAUTION:
                return {"acknowledged": True}
            case StepKind.NOTE:
                return {"read": True}
            case StepKind.PHOTO:
                return {"photo_key": self.photo_key}
            case StepKind.READ_VALUE:
                return self._reading(step.point)
            case StepKind.TIMED_RUN:
                return self._timed(step)
            case StepKind.DUTY_RUN:
                return self._duty(step)
            case StepKind.OUTLETS:
                return self._outlets(step)
            case StepKind.COLLECT:
                return {"sides": {side: self._collected(side) for side, _ in step.side_points}}

    def _reading(self, point: str) -> dict[str, str]:
        spread = {
            "bus-voltage": (28.0, 0.25, "V"),
            "fluid-temperature": (14.0, 2.0, "degC"),
            "drip-time": (24.0, 4.0, "s"),
            "level-error": (0.4, 0.1, "L"),
            "sample-clear": (83.0, 1.0, "%"),
        }
        middle, width, unit = spread[point]
        value = middle + max(-2.0, min(2.0, self.chance.gauss(0, 1))) * width
        return {"value": f"{value:.1f}", "unit": unit}

    def _timed(self, step: Step) -> dict[str, str]:
        wanted = float(step.seconds or Decimal(60))
        self.ran_seconds = round(wanted + max(-3.0, min(3.0, self.chance.gauss(0, 1.1))), 1)
        started = self.clock
        self.clock += timedelta(seconds=self.ran_seconds)
        return {"started_at": _written(started), "stopped_at": _written(self.clock)}

    def _duty(self, step: Step) -> dict[str, Any]:
        runs = []
        for _ in range(step.runs):
            off_at = self.clock + timedelta(seconds=float(step.max_on_seconds or 8) - 2)
            runs.append({"on_at": _written(self.clock), "off_at": _written(off_at)})
            self.clock = off_at + timedelta(seconds=float(step.min_rest_seconds or 12) + 5)
        return {"runs": runs}

    def _outlets(self, step: Step) -> dict[str, Any]:
        longest = float(step.longest_seconds or Decimal(60))
        times = (longest * self.chance.uniform(0.25, 0.75) for _ in self.sheet.outlets[step.key])
        rows = zip(self.sheet.outlets[step.key], times, strict=True)
        return {"outlets": [{"position": code, "wet": True, "seconds": f"{time:.0f}"} for code, time in rows]}

    def _collected(self, side: str) -> dict[str, str]:
        percent = self.flow.left if side == "left" else self.flow.right
        millilitres = NOMINAL_ML * percent / 100 * self.ran_seconds / 240
        if self.flow.density is None:
            return {"method": "volume", "value": f"{round(millilitres, -1):.0f}", "unit": "mL"}
        gross = TARE_G + millilitres * self.flow.density
        return {
            "method": "weighed",
            "gross": f"{gross:.0f}",
            "tare": str(TARE_G),
            "unit": "g",
            "celsius": "14.0",
        }


def _written(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
