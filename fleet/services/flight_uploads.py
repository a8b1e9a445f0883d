"""Flight files on their way in: kept, looked through, looked through again with other columns, imported."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import timedelta
from functools import partial
from typing import Any, BinaryIO, cast

from django.core.files.base import File
from django.db import transaction
from django.db.models import F, Q

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, Refusal, wrong
from fleet.models import FlightUpload
from fleet.selectors.flight_files import flight_upload_for
from fleet.selectors.people import actor_for
from fleet.services.flight_import import (
    BadRows,
    FlightFileInput,
    check_flight_file,
    columns_of,
    import_flight_file,
)

LARGEST = 200 * 1024 * 1024
KEPT = timedelta(days=2)
DEAD_AFTER = timedelta(minutes=30)
MOST_TRIES = 3
STATE = FlightUpload.State
OPEN = (STATE.CHECKED, STATE.REFUSED, STATE.FAILED)
logger = logging.getLogger(__name__)


class NoLongerMine(Exception):
    """The file was settled meanwhile by somebody else: what this import wrote is taken back."""


def keep_upload(*, actor: Actor, filename: str, content: File[bytes]) -> FlightUpload:
    """Keep a file and look it through; nothing is imported yet.

    Refuses a file that is empty, too large, or has no columns that could be flights.
    """
    require(actor, Verb.POST_FLIGHT)
    if not content.size:
        raise wrong("file", filename, "is empty", "choose a CSV file with a heading and one flight per row")
    if content.size > LARGEST:
        raise wrong("file", filename, "is larger than 200 MB", "split it, for example by year")
    _forget_old(actor)
    upload = FlightUpload(
        operator_id=actor.operator_id,
        filename=filename[:200],
        uploaded_at=now(),
        uploaded_by_id=actor.user_id or 0,
    )
    upload.file.save("flights.csv", content, save=False)
    return _look_through(actor, upload)


def read_upload_again(*, actor: Actor, upload_id: int, columns: Mapping[str, str]) -> FlightUpload:
    """Look the file through with other columns. Refuses one that is being imported, and columns it has not got."""
    require(actor, Verb.POST_FLIGHT)
    upload = flight_upload_for(actor, upload_id)
    if upload.state not in OPEN:
        raise Conflict("flight_upload_taken", f"This file is {upload.get_state_display()}.")
    upload.mapping = dict(columns)
    return _look_through(actor, upload)


def _look_through(actor: Actor, upload: FlightUpload) -> FlightUpload:
    """The dry run, kept on the row. A file whose columns are not known yet stays, so that they can be chosen."""
    with _open(upload) as content:
        try:
            heading, guess = columns_of(content)
        except Refusal:
            _forget(upload)
            raise
        known = {"filename": upload.filename, "heading": heading, "columns": guess.as_dict() | upload.mapping}
        try:
            report = check_flight_file(actor=actor, file=_input(upload, content)).as_dict()
        except Invalid as refusal:
            report = known | {"refusal": refusal.sentence}
    upload.report, upload.state = report, STATE.CHECKED
    upload.save()
    return upload


def ask_for_import(*, actor: Actor, upload_id: int, leave_out_bad_rows: bool) -> FlightUpload:
    """Ask for the file to be imported as it was looked through, or again after it broke off.

    Refuses one that cannot be imported, and one that was asked for.
    """
    require(actor, Verb.POST_FLIGHT)
    upload = flight_upload_for(actor, upload_id)
    if upload.report.get("refusal"):
        raise Conflict("flight_upload_unusable", upload.report["refusal"])
    if upload.report.get("bad") and not leave_out_bad_rows:
        raise Conflict(
            "flight_file_has_bad_rows",
            f"{upload.report['bad']} rows cannot be imported: correct the file, or choose to leave them out.",
        )
    if not upload.report.get("new"):
        raise Conflict("nothing_to_import", "There is no new flight in this file.")
    rows = FlightUpload.objects.filter(pk=upload.pk, state__in=(STATE.CHECKED, STATE.FAILED))
    if not rows.update(state=STATE.ASKED, tries=0, leaves_out_bad_rows=leave_out_bad_rows):
        raise Conflict("flight_upload_taken", f"This file is {upload.get_state_display()}.")
    upload.refresh_from_db()
    return upload


def waiting_uploads() -> list[int]:
    """Uploads to import: asked for, or taken on by a worker that has not finished within half an hour."""
    left_behind = Q(state=STATE.WORKING, claimed_at__lt=now() - DEAD_AFTER)
    rows = FlightUpload.objects.filter(Q(state=STATE.ASKED) | left_behind)
    return list(rows.order_by("uploaded_at").values_list("pk", flat=True))


def carry_out_upload(*, upload_id: int) -> bool:
    """Import one file in the name of who brought it; False where somebody else has it. Twice is harmless.

    What breaks it off other than a refusal is tried again, three times in all. Then the file has failed, and says so.
    """
    upload = _claim(upload_id)
    if upload is None:
        return False
    if upload.tries > MOST_TRIES:
        _fail(upload, MOST_TRIES, "each time the program stopped before it was done")
        return True
    try:
        _import(upload)
    except Refusal as refusal:
        found = refusal.report.as_dict() if isinstance(refusal, BadRows) else upload.report
        _settle(upload, STATE.REFUSED, report=found | {"refusal": refusal.sentence})
    except NoLongerMine:
        return False
    except Exception as error:  # whatever it was, the file may not stay "being imported"
        logger.exception("flight file %s broke off, try %s", upload.pk, upload.tries)
        if upload.tries < MOST_TRIES:
            _settle(upload, STATE.ASKED)
        else:
            _fail(upload, upload.tries, f"the last time by a fault in the system ({type(error).__name__})")
    return True


def _claim(upload_id: int) -> FlightUpload | None:
    """The file in this worker's hands. The tries rise with the claim, so that one that kills its worker counts too."""
    moment = now()
    free = Q(state=STATE.ASKED) | Q(state=STATE.WORKING, claimed_at__lt=moment - DEAD_AFTER)
    rows = FlightUpload.objects.filter(free, pk=upload_id)
    if not rows.update(state=STATE.WORKING, claimed_at=moment, tries=F("tries") + 1):
        return None
    return FlightUpload.objects.select_related("uploaded_by").get(pk=upload_id)


@transaction.atomic
def _import(upload: FlightUpload) -> None:
    """The flights and the word that they are in, both or neither: what is said to have failed left nothing behind."""
    actor = actor_for(upload.uploaded_by, upload.operator_id)
    with _open(upload) as content:
        report = import_flight_file(actor=actor, file=_input(upload, content))
    # Slow is not lost: whoever took it on meanwhile finds every flight there. But what was settled stays as it is.
    rows = FlightUpload.objects.filter(pk=upload.pk, state=STATE.WORKING)
    if not rows.update(state=STATE.DONE, report=report.as_dict(), batch_id=report.batch_id):
        raise NoLongerMine


def _settle(upload: FlightUpload, state: str, **values: Any) -> None:
    """Put down how it ended, unless another worker has it by now."""
    rows = FlightUpload.objects.filter(pk=upload.pk, state=STATE.WORKING, claimed_at=upload.claimed_at)
    rows.update(state=state, **values)


def _fail(upload: FlightUpload, tries: int, cause: str) -> None:
    """Given up, in words: what happened, that nothing of it was kept, and what to do."""
    words = (
        f"The import broke off {tries} times, {cause}. Nothing of it was kept: no flight came in, no counter moved. "
        "Try again; if it breaks off once more, tell whoever runs the system, who finds more in its log under "
        f"flight file {upload.pk}."
    )
    _settle(upload, STATE.FAILED, report=upload.report | {"failure": words})


def forget_upload(*, actor: Actor, upload_id: int) -> None:
    """Throw a file away that is not being imported; flights that came from it stay."""
    require(actor, Verb.POST_FLIGHT)
    upload = flight_upload_for(actor, upload_id)
    if upload.state in (STATE.ASKED, STATE.WORKING):
        raise Conflict("flight_upload_taken", f"This file is {upload.get_state_display()}.")
    _forget(upload)


def _open(upload: FlightUpload) -> BinaryIO:
    """The stored bytes themselves: the framework's wrapper costs a call per line."""
    return cast(BinaryIO, upload.file.storage.open(upload.file.name or "", "rb").file)


def _input(upload: FlightUpload, content: BinaryIO) -> FlightFileInput:
    return FlightFileInput(upload.filename, content, upload.mapping, upload.leaves_out_bad_rows)


def _forget_old(actor: Actor) -> None:
    old = FlightUpload.objects.filter(
        operator_id=actor.operator_id, uploaded_at__lt=now() - KEPT, state__in=(*OPEN, STATE.DONE)
    )
    for upload in old:
        _forget(upload)


def _forget(upload: FlightUpload) -> None:
    """The bytes go once the row is gone for good: a row without its file could not be shown any more."""
    file = upload.file
    if upload.pk is not None:
        upload.delete()
    transaction.on_commit(partial(file.storage.delete, file.name or ""))
