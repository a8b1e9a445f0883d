"""Sending what was written: claimed by conditional update, sent, marked; a claim nobody finished runs out.

Between claim and mark a worker may die at any line. The claim then runs out and the message is sent again with
the same identity (Message-ID, webhook-id), which a sink that honours it takes once. Nothing here runs inside a
transaction: every step is committed before the next.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import parseaddr
from smtplib import SMTPException, SMTPRecipientsRefused
from uuid import uuid4

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F, Q, QuerySet

from fleet.common.clock import now
from scheduling.models import Reminder, WebhookEndpoint
from scheduling.services.webhook_signature import headers

CLAIM_SECONDS = 300
SECONDS_TO_ANSWER = 10
BACKOFF_MINUTES = (1, 5, 30, 120, 300, 600, 840, 1200, 1440)
GONE = 410


@dataclass(frozen=True, slots=True)
class Outcome:
    """How sending went: sent, to be tried again, or never (`is_final`); `reason` says what was answered."""

    is_sent: bool
    reason: str = ""
    is_final: bool = False


SENT = Outcome(is_sent=True)


@dataclass(frozen=True, slots=True)
class Sweep:
    """What one sweep did."""

    sent: int = 0
    put_back: int = 0
    given_up: int = 0


def send_waiting(*, worker: str, most: int = 500) -> Sweep:
    """Send what waits, one message after the other. A sink that fails is left alone until the next sweep."""
    counts = {"sent": 0, "put_back": 0, "given_up": 0}
    resting: set[tuple[str, int | None]] = set()
    for _ in range(most):
        row = claim_next(worker=worker, resting=resting)
        if row is None:
            break
        outcome = deliver(row)
        counts[finish(row, outcome)] += 1
        if not outcome.is_sent and not outcome.is_final:
            resting.add((row.channel, row.endpoint_id))
    return Sweep(**counts)


def waiting(moment: datetime) -> QuerySet[Reminder]:
    """What may be claimed: due, not sent, not settled, not given up, and not in another worker's hands."""
    free = Q(claimed_at=None) | Q(claimed_at__lt=moment - timedelta(seconds=CLAIM_SECONDS))
    return Reminder.objects.filter(
        free, sent_at=None, settled_at=None, failed_reason="", send_after__lte=moment
    ).exclude(channel=Reminder.Channel.PRODUCT)


def claim_next(*, worker: str, resting: set[tuple[str, int | None]]) -> Reminder | None:
    """Claim one message for this worker, or None. Two workers never hold the same claim.

    The count of tries rises with the claim, so that a message that kills its worker is given up in the end.
    """
    moment = now()
    claim = f"{worker[:20]}:{uuid4().hex}"
    rows = waiting(moment)
    for channel, endpoint_id in resting:
        rows = rows.exclude(channel=channel, endpoint_id=endpoint_id)
    for pk in rows.order_by("send_after", "id").values_list("pk", flat=True)[:20]:
        taken = (
            waiting(moment)
            .filter(pk=pk)
            .update(claimed_at=moment, claimed_by=claim, attempts=F("attempts") + 1)
        )
        if taken:
            return Reminder.objects.select_related("recipient", "endpoint", "operator").get(pk=pk)
    return None


def finish(row: Reminder, outcome: Outcome) -> str:
    """Write down how sending went, as long as the claim is still this worker's; what was sent is sent in any case."""
    if outcome.is_sent:
        Reminder.objects.filter(pk=row.pk, sent_at=None).update(sent_at=now(), failed_reason="")
        return "sent"
    mine = Reminder.objects.filter(pk=row.pk, claimed_by=row.claimed_by, sent_at=None)
    if outcome.is_final or row.attempts > len(BACKOFF_MINUTES):
        tries = "" if outcome.is_final else f"given up after {row.attempts} tries: "
        mine.update(failed_reason=f"{tries}{outcome.reason}"[:300])
        return "given_up"
    pause = timedelta(minutes=BACKOFF_MINUTES[row.attempts - 1])
    mine.update(claimed_at=None, claimed_by="", send_after=now() + pause)
    return "put_back"


def deliver(row: Reminder) -> Outcome:
    """Hand one message to its sink; never raises for what a sink does."""
    if row.attempts > len(BACKOFF_MINUTES) + 1:
        return Outcome(is_sent=False, reason="its worker ended every time", is_final=True)
    return SINKS[row.channel](row)


def send_mail(row: Reminder) -> Outcome:
    """One mail; its Message-ID is the same at every try."""
    if row.recipient is None or not row.recipient.email:
        return Outcome(is_sent=False, reason="no mail address is known", is_final=True)
    sender = row.operator.mail_from or settings.DEFAULT_FROM_EMAIL
    message = EmailMessage(
        subject=" ".join(row.subject.split()),
        body=row.words,
        from_email=sender,
        to=[row.recipient.email],
        headers={"Message-ID": message_id(row, sender), "Auto-Submitted": "auto-generated"},
    )
    try:
        message.send()
    except SMTPRecipientsRefused as refused:
        codes = [code for code, _ in refused.recipients.values()]
        final = bool(codes) and all(500 <= code < 600 for code in codes)
        return Outcome(is_sent=False, reason="the mail server refuses the address", is_final=final)
    except (SMTPException, OSError) as error:
        return Outcome(is_sent=False, reason=f"mail: {type(error).__name__}")
    return SENT


def message_id(row: Reminder, sender: str) -> str:
    """The identity of a mail, from its key alone: `<3f5a…@skerry.example>`."""
    domain = parseaddr(sender)[1].rpartition("@")[2] or "localhost"
    return f"<{identity(row)}@{domain}>"


def identity(row: Reminder) -> str:
    """What names a message through every repetition: a digest of its key."""
    return hashlib.sha256(f"{row.operator_id}:{row.key}".encode()).hexdigest()[:32]


def send_webhook(row: Reminder) -> Outcome:
    """One signed POST; only 2xx counts as taken, and 410 switches the endpoint off."""
    endpoint = row.endpoint
    if endpoint is None or not endpoint.is_enabled:
        return Outcome(is_sent=False, reason="the endpoint is switched off", is_final=True)
    body = body_of(row)
    signed = headers(endpoint.secret, f"msg_{identity(row)}", int(now().timestamp()), body)
    told = {"content-type": "application/json", "user-agent": "Verglas", **signed}
    # https, or this machine: checked when registered
    request = urllib.request.Request(endpoint.url, data=body, method="POST", headers=told)  # noqa: S310
    try:
        with _opener.open(request, timeout=SECONDS_TO_ANSWER) as answer:
            code = answer.status
    except urllib.error.HTTPError as refused:
        code = refused.code
        refused.close()
    except (OSError, http.client.HTTPException) as error:
        return Outcome(is_sent=False, reason=f"no answer: {type(error).__name__}")
    if 200 <= code < 300:
        return SENT
    if code == GONE:
        WebhookEndpoint.objects.filter(pk=endpoint.pk).update(
            is_enabled=False, disabled_reason="it answered 410 Gone"
        )
    return Outcome(is_sent=False, reason=f"answered {code}", is_final=code == GONE)


def body_of(row: Reminder) -> bytes:
    """The body of a webhook, the same at every try: type, timestamp of writing, and what it is about."""
    kind = "test" if row.stage == Reminder.Stage.TEST else f"reminder.{row.stage}"
    content = {
        "type": kind,
        "timestamp": row.written_at.isoformat(),
        "data": {"key": row.key, "subject": row.subject, "words": row.words, **row.detail},
    }
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


class _NoRedirects(urllib.request.HTTPRedirectHandler):
    """A redirect is an answer that is not 2xx: a signed message goes where it was meant to."""

    def redirect_request(self, *_: object, **__: object) -> None:
        return None


_opener = urllib.request.build_opener(_NoRedirects, urllib.request.ProxyHandler({}))

SINKS: dict[str, Callable[[Reminder], Outcome]] = {
    Reminder.Channel.MAIL.value: send_mail,
    Reminder.Channel.WEBHOOK.value: send_webhook,
}
