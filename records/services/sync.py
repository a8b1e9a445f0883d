"""The phone's outbox: commands entered without reception, carried out one by one, each with its own answer.

A command that fails never takes others with it, and one sent twice is carried out once.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from functools import partial
from typing import Any

from fleet.common.actor import Actor
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, Reason, Refusal, wrong
from fleet.services.receipts import once
from records.services.sync_commands import COMMANDS, Command

_wrong = partial(wrong, code="bad_command")

logger = logging.getLogger(__name__)
MOST_COMMANDS = 500
LONGEST_ID = 40
CLOCK_TOLERANCE = timedelta(minutes=2)


class Outcome(StrEnum):
    """What became of one command."""

    APPLIED = "applied"
    REPEATED = "repeated"
    CONFLICT = "conflict"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Result:
    """The answer to one command. `body` is what the phone may show; a refusal carries its reasons."""

    id: str
    outcome: Outcome
    words: str
    code: str = ""
    reasons: tuple[Reason, ...] = ()
    body: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Outbox:
    """What a phone sends: its own name, its clock at that moment, and commands in the order they were entered."""

    device: str
    sent_at: datetime
    commands: Sequence[object]


@dataclass(frozen=True, slots=True)
class Synced:
    """The answers in order; `clock_seconds` is how far the phone's clock is behind (ahead: negative)."""

    received_at: datetime
    clock_seconds: int
    results: tuple[Result, ...]


def sync(*, actor: Actor, outbox: Outbox) -> Synced:
    """Carry the commands out in order, each in a transaction of its own.

    Where the phone's clock is off by more than two minutes, the moments it gave are put right by the difference.
    """
    received_at = now()
    difference = received_at - outbox.sent_at
    shift = difference if abs(difference) > CLOCK_TOLERANCE else timedelta(0)
    if len(outbox.commands) > MOST_COMMANDS:
        raise Invalid(
            "too_many_commands",
            f"At most {MOST_COMMANDS} commands at a time.",
            Reason("are too many", "commands", str(len(outbox.commands)), f"send {MOST_COMMANDS} at a time"),
        )
    results = tuple(_one(actor, outbox.device, data, shift) for data in outbox.commands)
    return Synced(received_at, round(difference.total_seconds()), results)


def _one(actor: Actor, device: str, data: object, shift: timedelta) -> Result:
    """One command, whatever becomes of it."""
    identity = str(data.get("id", ""))[:LONGEST_ID] if isinstance(data, Mapping) else ""
    try:
        command = _command(data, shift)
        return _carried_out(actor, device, command)
    except Conflict as refusal:
        return Result(identity, Outcome.CONFLICT, refusal.sentence, refusal.code, refusal.reasons)
    except Refusal as refusal:
        return Result(identity, Outcome.REFUSED, refusal.sentence, refusal.code, refusal.reasons)
    except Exception:  # a bug met by one command must not hide the answers to the others
        logger.exception("command %s of device %s broke", identity, device)
        words = "This could not be carried out: something is broken here. It was noted; keep it and send it later."
        return Result(identity, Outcome.REFUSED, words, "broke")


def _command(data: object, shift: timedelta) -> Command:
    if not isinstance(data, Mapping):
        raise _wrong("command", str(data)[:40], "is no object", 'send {"id", "kind", "captured_at", "body"}')
    identity, kind = data.get("id"), data.get("kind")
    body, written = data.get("body", {}), data.get("captured_at")
    if not isinstance(identity, str) or not identity.strip() or len(identity) > LONGEST_ID:
        raise _wrong("id", str(identity)[:40], "is no id", f"send a text of 1 to {LONGEST_ID} characters")
    if not isinstance(kind, str) or kind not in COMMANDS:
        raise _wrong("kind", str(kind)[:40], "is no command", f"use one of: {', '.join(COMMANDS)}")
    if not isinstance(body, Mapping):
        raise _wrong("body", str(body)[:40], "is no object", "send what the command needs")
    try:
        captured_at = datetime.fromisoformat(written) if isinstance(written, str) else None
    except ValueError:
        captured_at = None
    if captured_at is None or captured_at.tzinfo is None:
        raise _wrong(
            "captured_at", str(written)[:40], "is no moment with a zone", "write 2026-01-15T09:30:00Z"
        )
    return Command(identity, kind, captured_at + shift, body)


def _carried_out(actor: Actor, device: str, command: Command) -> Result:
    text = json.dumps([command.kind, command.body], sort_keys=True, default=str)
    (_, body, _), repeated = once(
        actor=actor,
        key=f"{device}:{command.id}",
        request_digest=hashlib.sha256(text.encode()).hexdigest(),
        act=lambda: (200, COMMANDS[command.kind](actor, command), {}),
    )
    words = body.get("words", "")
    outcome = Outcome.REPEATED if repeated or body.get("repeated") else Outcome.APPLIED
    return Result(command.id, outcome, words, body=body)
