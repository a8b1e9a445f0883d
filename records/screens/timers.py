"""The timer of a timed or duty run, kept by the server in the person's session so that a reload loses nothing."""

from __future__ import annotations

from collections.abc import MutableMapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from fleet.common.clock import now
from fleet.common.errors import Conflict
from records.screens.step_forms import fresh_key
from scheduling.steps.terms import Step, StepKind

SESSION_KEY = "run_timers"
CLOCKS_AGREE = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Timer:
    """What was pressed so far: each time on with its time off, the last perhaps still on."""

    key: str
    presses: tuple[tuple[datetime, datetime | None], ...] = ()
    repeat_reason: str = ""

    @property
    def is_on(self) -> bool:
        """Whether it runs now."""
        return bool(self.presses) and self.presses[-1][1] is None

    @property
    def since(self) -> datetime | None:
        """When the present state began: switched on, or last switched off."""
        if not self.presses:
            return None
        on_at, off_at = self.presses[-1]
        return off_at or on_at

    @property
    def made(self) -> int:
        """How many runs are complete."""
        return sum(off_at is not None for _, off_at in self.presses)

    def is_complete(self, step: Step) -> bool:
        """Whether every run that the step asks for was made."""
        return self.made >= (step.runs if step.kind is StepKind.DUTY_RUN else 1)

    def answer(self, step: Step) -> dict[str, Any]:
        """The presses as the step's answer."""
        runs = [(on.isoformat(), off.isoformat()) for on, off in self.presses if off is not None]
        if step.kind is StepKind.TIMED_RUN:
            return {"started_at": runs[0][0], "stopped_at": runs[0][1]}
        return {"runs": [{"on_at": on, "off_at": off} for on, off in runs]}


Session = MutableMapping[str, Any]


def timer_of(session: Session, run_id: int, step: Step) -> Timer | None:
    """The timer that was begun for this step, or None."""
    kept = session.get(SESSION_KEY, {}).get(_name(run_id, step))
    if kept is None:
        return None
    presses = tuple((_moment(on), _moment(off) if off else None) for on, off in kept["presses"])
    return Timer(kept["key"], presses, kept["repeat_reason"])


def press(session: Session, run_id: int, step: Step, pressed_at: datetime, reason: str = "") -> Timer:
    """Switch on if it is off and off if it is on. Refuses (`rest_first`) what would break the minimum rest."""
    timer = timer_of(session, run_id, step) or Timer(fresh_key(), (), reason)
    if timer.is_on:
        presses = (*timer.presses[:-1], (timer.presses[-1][0], max(pressed_at, timer.presses[-1][0])))
    else:
        _must_have_rested(step, timer, pressed_at)
        presses = (*timer.presses, (pressed_at, None))
    timer = Timer(timer.key, presses, timer.repeat_reason)
    _keep(session, run_id, step, timer)
    return timer


def clear(session: Session, run_id: int, step: Step) -> None:
    """Forget the timer."""
    kept = dict(session.get(SESSION_KEY, {}))
    kept.pop(_name(run_id, step), None)
    session[SESSION_KEY] = kept


def pressed_moment(written: str) -> datetime:
    """When the button was pressed by the browser's clock, where that agrees with ours; else now."""
    present = now()
    try:
        pressed = datetime.fromisoformat(written)
    except ValueError:
        return present
    if pressed.tzinfo is None or abs(pressed - present) > CLOCKS_AGREE:
        return present
    return min(pressed, present)


def rest_ends(step: Step, timer: Timer) -> datetime | None:
    """When the pump may be switched on again, None where it may at once."""
    if step.kind is not StepKind.DUTY_RUN or not timer.presses or timer.is_on:
        return None
    off_at = timer.presses[-1][1]
    return off_at + timedelta(milliseconds=int((step.min_rest_seconds or 0) * 1000)) if off_at else None


def _must_have_rested(step: Step, timer: Timer, pressed_at: datetime) -> None:
    rested_at = rest_ends(step, timer)
    if rested_at is not None and pressed_at < rested_at:
        left = -((pressed_at - rested_at) // timedelta(seconds=1))
        raise Conflict("rest_first", f"The pump rests {left} s more before it may be switched on again.")


def _keep(session: Session, run_id: int, step: Step, timer: Timer) -> None:
    presses = [[on.isoformat(), off.isoformat() if off else ""] for on, off in timer.presses]
    kept = {"key": timer.key, "presses": presses, "repeat_reason": timer.repeat_reason}
    session[SESSION_KEY] = {**session.get(SESSION_KEY, {}), _name(run_id, step): kept}


def _name(run_id: int, step: Step) -> str:
    return f"{run_id}/{step.key}"


def _moment(written: str) -> datetime:
    return datetime.fromisoformat(written)
