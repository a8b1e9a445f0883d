"""Reads about passkeys."""

from __future__ import annotations

from django.db.models import QuerySet

from fleet.common.actor import Actor
from fleet.models import Passkey


def passkeys_of(actor: Actor) -> QuerySet[Passkey]:
    """The actor's own passkeys, newest first."""
    return Passkey.objects.filter(user_id=actor.user_id or 0).order_by("-created_at", "-id")


def passkeys_of_operator(actor: Actor) -> QuerySet[Passkey]:
    """Passkeys of everybody active with a role at the operator."""
    return (
        Passkey.objects.filter(user__is_active=True, user__memberships__operator_id=actor.operator_id)
        .distinct()
        .order_by("id")
    )
