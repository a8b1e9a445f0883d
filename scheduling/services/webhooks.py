"""Where signed webhooks go: registered, tried, switched off and on. The administrator's business."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Invalid, NotFound, Reason
from fleet.common.keys import new_key
from fleet.services.trail import note
from scheduling.models import Reminder, WebhookEndpoint
from scheduling.services.webhook_signature import new_secret

LONGEST_URL = 400


@dataclass(frozen=True, slots=True)
class NewEndpoint:
    """An endpoint just registered, and its secret, which is never shown again."""

    endpoint: WebhookEndpoint
    secret: str


@transaction.atomic
def add_endpoint(*, actor: Actor, label: str, url: str) -> NewEndpoint:
    """Register an address; its secret is made here and shown once. Refuses plain HTTP but to this machine."""
    require(actor, Verb.EDIT_PEOPLE)
    reasons = [*_wrong_label(label), *_wrong_url(url)]
    if reasons:
        raise Invalid("bad_endpoint", "This address cannot be used.", *reasons)
    secret = new_secret()
    row = WebhookEndpoint.objects.create(
        operator_id=actor.operator_id, url=url, label=label.strip(), secret=secret, created_at=now()
    )
    note(actor, "add_webhook", "webhook", row.pk, f"Webhook {row.label} to {row.url}")
    return NewEndpoint(row, secret)


@transaction.atomic
def switch_endpoint(*, actor: Actor, endpoint_id: int, enabled: bool) -> WebhookEndpoint:
    """Switch an endpoint on or off; what it missed while off is not sent later."""
    require(actor, Verb.EDIT_PEOPLE)
    row = endpoint_for_writing(actor, endpoint_id)
    row.is_enabled, row.disabled_reason = enabled, "" if enabled else f"switched off by {actor.name}"
    row.save(update_fields=["is_enabled", "disabled_reason"])
    note(actor, "switch_webhook", "webhook", row.pk, f"Webhook {row.label} {'on' if enabled else 'off'}")
    return row


@transaction.atomic
def remove_endpoint(*, actor: Actor, endpoint_id: int) -> None:
    """Take an endpoint away, with what was still to be sent there."""
    require(actor, Verb.EDIT_PEOPLE)
    row = endpoint_for_writing(actor, endpoint_id)
    note(actor, "remove_webhook", "webhook", row.pk, f"Webhook {row.label} to {row.url} removed")
    row.delete()


@transaction.atomic
def try_endpoint(*, actor: Actor, endpoint_id: int) -> Reminder:
    """Write a test message for an endpoint; it goes out as any other does."""
    require(actor, Verb.EDIT_PEOPLE)
    row = endpoint_for_writing(actor, endpoint_id)
    if not row.is_enabled:
        reason = Reason("is switched off", "endpoint", row.label, "switch it on first")
        raise Invalid("endpoint_off", "Nothing is sent to an endpoint that is switched off.", reason)
    reminder = Reminder.objects.create(
        operator_id=actor.operator_id,
        endpoint=row,
        channel=Reminder.Channel.WEBHOOK,
        stage=Reminder.Stage.TEST,
        rung="test",
        key=new_key("test"),
        subject="Test message",
        words=f"{actor.name} tries this endpoint.",
        detail={"stage": "test"},
        send_after=now(),
        written_at=now(),
    )
    note(actor, "try_webhook", "webhook", row.pk, f"Test message to {row.label}")
    return reminder


def endpoint_for_writing(actor: Actor, endpoint_id: int) -> WebhookEndpoint:
    """The endpoint, locked; a stranger's is not found."""
    row = (
        WebhookEndpoint.objects.select_for_update()
        .filter(pk=endpoint_id, operator_id=actor.operator_id)
        .first()
    )
    if row is None:
        raise NotFound("endpoint_not_found", "There is no such endpoint here.")
    return row


def _wrong_label(label: str) -> list[Reason]:
    if 0 < len(label.strip()) <= 80:
        return []
    return [Reason("is empty or too long", "label", label[:40], "write 1 to 80 characters")]


def _wrong_url(url: str) -> list[Reason]:
    try:
        parts = urlsplit(url)
        host, _ = parts.hostname or "", parts.port
    except ValueError:
        return [Reason("is no address", "url", url[:80], "write https://host/path")]
    if not host or len(url) > LONGEST_URL or parts.username or any(one.isspace() for one in url):
        return [Reason("is no address", "url", url[:80], "write https://host/path, without a password")]
    if parts.scheme == "https" and not _is_link_local(host):
        return []
    if parts.scheme == "http" and host in ("localhost", "127.0.0.1", "::1"):
        return []
    return [Reason("is not safe to send to", "url", url[:80], "use an https address")]


def _is_link_local(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_link_local
    except ValueError:
        return False
