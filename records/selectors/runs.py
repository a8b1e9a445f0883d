"""Reads about bench runs: what is in hand, what was entered, what is to be signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from fleet.common.actor import Actor
from fleet.common.errors import Conflict, NotFound
from records.models import BenchRun, Photo, Signature
from records.seal.canonical import exact_form
from records.seal.digest import digest_of


@dataclass(frozen=True, slots=True)
class SignedContent:
    """What is signed, in full, with the digest a signature binds."""

    payload: Mapping[str, Any]
    digest: str


@dataclass(frozen=True, slots=True)
class RunQuery:
    """Which runs are wanted; empty means all."""

    task: int | None = None
    aircraft: str = ""
    state: str = ""


ALL = RunQuery()


def runs(actor: Actor, query: RunQuery = ALL) -> QuerySet[BenchRun]:
    """The operator's runs, newest first."""
    rows = BenchRun.objects.filter(operator_id=actor.operator_id)
    if query.task is not None:
        rows = rows.filter(task_id=query.task)
    if query.aircraft:
        rows = rows.filter(aircraft__registration__iexact=query.aircraft)
    if query.state:
        rows = rows.filter(state=query.state)
    return (
        rows.select_related("task", "aircraft", "performer", "procedure_version__procedure", "record")
        .defer("content", "procedure_version__content", "record__canonical")
        .order_by("-id")
    )


def run_for(actor: Actor, run_id: int) -> BenchRun:
    """One run; a stranger's is not found."""
    run = _one(actor, run_id).first()
    if run is None:
        raise NotFound("run_not_found", "There is no such run here.")
    return run


def run_in_full(actor: Actor, run_id: int) -> BenchRun:
    """One run with everything entered, in a constant number of queries; a stranger's is not found."""
    rows = _one(actor, run_id).prefetch_related(
        "answers__by",
        "measurements",
        "equipment_uses__equipment",
        "lot_uses__lot",
        "photos",
        "hand_overs__from_user",
        "hand_overs__to_user",
        "signatures",
    )
    run = rows.first()
    if run is None:
        raise NotFound("run_not_found", "There is no such run here.")
    return run


def _one(actor: Actor, run_id: int) -> QuerySet[BenchRun]:
    return BenchRun.objects.filter(pk=run_id, operator_id=actor.operator_id).select_related(
        "task",
        "aircraft__base",
        "aircraft__aircraft_type",
        "performer",
        "procedure_version__procedure",
        "record",
    )


def still_needed(run: BenchRun) -> list[str]:
    """The meanings of signatures that are not there yet, in order."""
    wanted = [Signature.Meaning.PERFORMED.value]
    if run.procedure_version.needs_countersignature:
        wanted.append(Signature.Meaning.INSPECTED.value)
    signed = set(run.signatures.values_list("meaning", flat=True))
    return [meaning for meaning in wanted if meaning not in signed]


def content_of_run(run: BenchRun) -> SignedContent:
    """Everything a signature binds: work, readings, limits, verdicts, equipment, fluid, photographs.

    It was written down when the run was finished. Refuses (`run_not_finished`) before that.
    """
    if run.content is None:
        raise Conflict("run_not_finished", f"This run is {run.get_state_display()}: finish it first.")
    return SignedContent(run.content, digest_of(exact_form(run.content)))


def content_to_sign(actor: Actor, run_id: int) -> SignedContent:
    """What the actor would sign; a stranger's run is not found."""
    return content_of_run(run_for(actor, run_id))


def photo_for(actor: Actor, run_id: int, photo_id: int) -> Photo:
    """One photograph of a run; a stranger's is not found."""
    photo = Photo.objects.filter(pk=photo_id, run_id=run_id, run__operator_id=actor.operator_id).first()
    if photo is None:
        raise NotFound("photo_not_found", "There is no such photo here.")
    return photo
