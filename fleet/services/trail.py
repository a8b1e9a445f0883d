"""The last line of every service: who did what to which."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fleet.common.actor import Actor
from fleet.common.clock import now
from fleet.models import TrailEntry


def note(
    actor: Actor,
    action: str,
    subject: str,
    subject_id: int | str,
    words: str,
    detail: Mapping[str, Any] | None = None,
) -> TrailEntry:
    """Write one line of the trail in the caller's transaction; `words` is the sentence people read."""
    return TrailEntry.objects.create(
        operator_id=actor.operator_id,
        at=now(),
        actor_id=actor.user_id,
        actor_name=actor.name,
        action=action,
        subject=subject,
        subject_id=str(subject_id),
        words=words[:400],
        detail=dict(detail or {}),
    )
