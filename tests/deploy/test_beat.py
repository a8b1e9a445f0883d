"""One beat at a time, on one machine and on several; every entry of the beat table runs out."""

import time
from pathlib import Path

import pytest
from celery.schedules import crontab

from deploy.beat import FileLease, RedisLease
from deploy.celery import BEAT, app, every, nightly


def test_of_two_beats_on_one_machine_only_the_first_sends(tmp_path: Path) -> None:
    first, second = FileLease(tmp_path / "beat.lock"), FileLease(tmp_path / "beat.lock")
    assert [first.is_held(), second.is_held(), first.is_held()] == [True, False, True]
    first.file.close()
    assert second.is_held()


@pytest.mark.redis
def test_of_two_beats_on_two_machines_the_second_takes_over_when_the_first_falls_silent(
    redis_url: str,
) -> None:
    first, second = RedisLease(redis_url, seconds=0.4), RedisLease(redis_url, seconds=0.4)
    assert [first.is_held(), second.is_held(), first.is_held()] == [True, False, True]
    time.sleep(0.5)
    assert [second.is_held(), first.is_held()] == [True, False]


def test_a_message_of_the_beat_runs_out_when_the_next_one_is_due() -> None:
    assert every(60, "scheduling.jobs.any")["options"] == {"expires": 60}


def test_a_nightly_message_may_be_taken_up_to_six_hours_late() -> None:
    entry = nightly(2, 30, "records.jobs.any")
    assert entry["schedule"] == crontab(hour=2, minute=30)
    assert entry["options"] == {"expires": 21600}


def test_every_entry_of_the_beat_table_names_a_job_that_exists_and_runs_out() -> None:
    app.loader.import_default_modules()
    assert {entry["task"] for entry in BEAT.values()} - set(app.tasks) == set()
    assert [name for name, entry in BEAT.items() if not entry["options"].get("expires")] == []
