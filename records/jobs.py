"""Nightly jobs of the records room: trends judged anew, seals and proofs checked. Doing either twice is harmless."""

from __future__ import annotations

from celery import shared_task

from fleet.common.actor import system_actor
from fleet.models import Operator
from records.services.trends import refresh_every_trend
from records.services.verification import verify_records


@shared_task
def refresh_trends() -> int:
    """Judge every trend of every operator: repeatability is the whole fleet's, so one test may change others."""
    return sum(refresh_every_trend(operator_id=pk) for pk in Operator.objects.values_list("pk", flat=True))


@shared_task
def check_records() -> int:
    """Check every seal, signature, photograph and proof; the number of things wrong. The trail keeps the words."""
    flaws = 0
    for operator in Operator.objects.order_by("pk"):
        for found in verify_records(actor=system_actor(operator.pk, "nightly check")):
            flaws += len(found.flaws)
    return flaws
