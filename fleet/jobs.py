"""Work of the fleet room that runs long."""

from __future__ import annotations

from celery import shared_task

from fleet.services.flight_uploads import carry_out_upload, waiting_uploads


@shared_task(name="fleet.jobs.import_flight_files")
def import_flight_files() -> int:
    """Import every file that waits; how many this run took. What falls due moves with it."""
    return sum(carry_out_upload(upload_id=upload_id) for upload_id in waiting_uploads())
