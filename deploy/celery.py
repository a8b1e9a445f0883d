"""The Celery app and the beat table: every repeating job stands on this page.

The queue is only a doorbell. A job that is lost or run twice must do no harm: it claims rows and calls one
service.
"""

import os
from typing import TypedDict

from celery import Celery
from celery.schedules import crontab, schedule

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.local")

app = Celery("verglas")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(related_name="jobs")


class BeatEntry(TypedDict):
    task: str
    schedule: schedule | crontab
    options: dict[str, float]


def every(seconds: float, task: str) -> BeatEntry:
    """One job at a steady beat; a message nobody took within one beat is dropped: the next does its work.

    >>> every(60, "scheduling.jobs.send_reminders")["options"]
    {'expires': 60}
    """
    return {"task": task, "schedule": schedule(seconds), "options": {"expires": seconds}}


def nightly(hour: int, minute: int, task: str) -> BeatEntry:
    """One job a day at this UTC time; it may be taken up to six hours late."""
    return {"task": task, "schedule": crontab(hour=hour, minute=minute), "options": {"expires": 6 * 3600}}


BEAT: dict[str, BeatEntry] = {
    "import flight files": every(60, "fleet.jobs.import_flight_files"),
    "write reminders": every(300, "scheduling.jobs.write_reminders"),
    "send reminders": every(60, "scheduling.jobs.send_reminders"),
    "work out weeks asked for": every(30, "scheduling.jobs.solve_weeks"),
    "keep the due list in step": every(300, "scheduling.jobs.refresh_due"),
    "raise due work": nightly(4, 0, "scheduling.jobs.raise_due_work"),
    "judge trends anew": nightly(1, 30, "records.jobs.refresh_trends"),
    "check seals and proofs": nightly(2, 15, "records.jobs.check_records"),
}

app.conf.beat_schedule = BEAT
