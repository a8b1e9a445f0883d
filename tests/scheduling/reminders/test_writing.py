"""Reminders written once by key, settled when the matter moves on."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.mail import EmailMessage
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.common.clock import frozen
from fleet.common.errors import Invalid
from fleet.models import Membership
from scheduling.jobs import send_reminders, write_reminders
from scheduling.models import Applicability, Reminder, ReminderChoice, Requirement, Task
from scheduling.services.due import refresh_due
from scheduling.services.requirements import WrittenRequirement, write_requirement
from tests.makers import BaseMaker, make_person
from tests.scheduling.due.makers import apply, make_requirement
from tests.scheduling.makers import TaskMaker
from tests.scheduling.reminders.office import DAY, after, make_endpoint, make_office
from tests.words import plain

pytestmark = pytest.mark.django_db


def test_the_step_that_stands_is_told_to_the_controller_in_the_engines_own_words() -> None:
    office = make_office(left=10)
    assert office.look().written == 1
    row = Reminder.objects.get()
    assert (row.recipient, row.channel, row.rung) == (office.person("controller"), "product", "days-14")
    assert plain(row.subject) == f"{office.house.aircraft}: 100-hour check due on 13 Mar 2025"
    assert plain(row.words).splitlines()[0] == f"{plain(row.subject)}; 10 days left."
    assert "Due soon by days: 10 days left, due on 13 Mar 2025." in plain(row.words)
    assert row.sent_at is not None


def test_looking_again_writes_nothing_more() -> None:
    office = make_office(left=10)
    office.look()
    assert office.look().written == 0
    with frozen(after(days=2)):
        assert office.look().written == 0
    assert Reminder.objects.count() == 1


def test_each_step_comes_once_and_takes_the_place_of_the_one_before() -> None:
    office = make_office(left=31)
    seen = []
    for day in range(34):
        with frozen(after(days=day)):
            office.look()
            seen.append(office.inbox("controller"))
    assert [seen[day] for day in (0, 1, 16, 17, 24, 30, 31)] == [
        [],
        ["days-30"],
        ["days-30"],
        ["days-14"],
        ["days-7"],
        ["days-1"],
        [f"reached-{DAY + timedelta(days=31)}"],
    ]
    told = Reminder.objects.filter(recipient=office.person("controller"))
    assert told.values("key").distinct().count() == told.count()


def test_what_is_overdue_is_told_to_the_director_every_day() -> None:
    office = make_office(left=-2)
    for day in range(3):
        with frozen(after(days=day)):
            office.look()
    rows = Reminder.objects.filter(recipient=office.person("director"))
    assert [row.rung for row in rows.order_by("id")] == [
        "overdue-2025-03-03",
        "overdue-2025-03-04",
        "overdue-2025-03-05",
    ]
    assert office.inbox("director") == ["overdue-2025-03-05"]
    assert not Reminder.objects.filter(recipient=office.person("controller")).exists()


def test_after_days_without_a_look_there_is_one_reminder_not_a_flood() -> None:
    office = make_office(left=31)
    office.look()
    with frozen(after(days=60)):
        assert office.look().written == 1
        assert office.look().written == 0
    assert [row.rung for row in Reminder.objects.all()] == ["overdue-2025-05-02"]


def test_work_done_takes_the_reminder_out_of_the_inbox() -> None:
    office = make_office(left=5)
    office.look()
    assert office.inbox("controller") == ["days-7"]
    done = {"day": DAY.isoformat(), "counters": {}}
    Applicability.objects.filter(pk=office.item.pk).update(last_done=done, done_on=DAY)
    refresh_due([office.house.aircraft.pk])
    assert office.look().settled == 1
    assert office.inbox("controller") == []


def test_hours_are_counted_on_the_aircrafts_own_meter() -> None:
    office = make_office(limits={"measure": "hours", "every": "100:00", "anchor": "from_due"})
    Applicability.objects.filter(pk=office.item.pk).update(
        last_done={"day": "2025-01-01", "counters": {"hours": 55_000}}
    )
    refresh_due([office.house.aircraft.pk])
    office.look()
    assert [row.rung for row in Reminder.objects.all()] == ["hours-1500"]
    assert "due at 1 016:40 h" in plain(Reminder.objects.get().subject)


def test_controllers_of_the_aircrafts_base_are_told_and_others_only_where_there_are_none() -> None:
    office = make_office(left=10)
    elsewhere = BaseMaker(operator=office.house.operator)
    far = make_person("controller", office.house.operator, base=elsewhere)
    office.look()
    assert [row.recipient for row in Reminder.objects.all()] == [office.person("controller")]
    Membership.objects.filter(user=office.person("controller")).delete()
    with frozen(after(days=4)):
        office.look()
    assert [row.recipient for row in Reminder.objects.filter(rung="days-7")] == [far]


def test_somebody_without_a_base_is_told_of_every_base() -> None:
    office = make_office(left=10)
    make_person("controller", office.house.operator)
    office.look()
    assert Reminder.objects.count() == 2


def test_each_operator_is_told_of_its_own_alone() -> None:
    office, other = make_office(left=10), make_office(left=10)
    office.look()
    assert {row.operator for row in Reminder.objects.all()} == {office.house.operator}
    other.look()
    assert Reminder.objects.filter(recipient=other.person("controller")).count() == 1


def test_the_usual_ladder_of_its_consequence_holds_where_the_requirement_names_none() -> None:
    office = make_office(left=20, ladder={}, consequence="operation")
    assert office.look().written == 0
    office = make_office(left=20, ladder={}, consequence="icing")
    assert office.look().written == 1


def test_a_task_with_a_last_day_is_told_to_whoever_has_it() -> None:
    office = make_office(left=90)
    technician = office.person("technician")
    TaskMaker(
        aircraft=office.house.aircraft,
        code="purge",
        latest_day=DAY + timedelta(days=1),
        assigned_to=technician,
    )
    office.look()
    told = Reminder.objects.filter(task__isnull=False)
    assert {row.recipient for row in told} == {office.person("controller"), technician}
    assert {row.rung for row in told} == {"days-1"}
    Task.objects.update(state="withdrawn", withdrawn_reason="not needed")
    assert office.look().settled == 2


def test_mail_at_once_waits_for_the_end_of_quiet_hours() -> None:
    office = make_office(left=10)
    ReminderChoice.objects.create(
        operator=office.house.operator, person=office.person("controller"), by_mail="at_once"
    )
    with frozen(after(hours=10)):
        office.look()
    row = Reminder.objects.get(channel="mail")
    assert row.send_after == after(days=1).replace(hour=6)


def test_every_endpoint_gets_one_message_a_step() -> None:
    office = make_office(left=10)
    make_endpoint(office)
    make_endpoint(office, "https://other.example/hook")
    office.look()
    office.look()
    rows = Reminder.objects.filter(channel="webhook")
    assert rows.count() == 2
    detail = rows[0].detail
    assert detail | {name: plain(detail[name]) for name in ("step", "due", "left")} == {
        "item": office.item.pk,
        "task": None,
        "subject": str(office.house.aircraft),
        "title": "100-hour check",
        "consequence": "airworthiness",
        "stage": "before",
        "step": "14 days before",
        "due": "13 Mar 2025",
        "left": "10 days left",
    }


def test_an_unsent_message_about_what_is_done_is_taken_back() -> None:
    office = make_office(left=10)
    make_endpoint(office)
    office.look()
    Applicability.objects.filter(pk=office.item.pk).update(is_active=False)
    office.look()
    assert Reminder.objects.filter(channel="webhook", settled_at=None).count() == 0


def test_a_look_costs_the_same_queries_for_ten_items_as_for_twenty() -> None:
    office = make_office(left=10)
    counts = []
    for round_of in range(2):
        for number in range(10):
            row = make_requirement(
                office.house.operator,
                code=f"check-{round_of}-{number}",
                limits={"measure": "days", "every": 100},
            )
            apply(row, office.house.aircraft, day=DAY - timedelta(days=95))
        refresh_due([office.house.aircraft.pk])
        with CaptureQueriesContext(connection) as seen:
            office.look()
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_steps_of_a_requirement_are_checked_when_written() -> None:
    office = make_office(left=10)
    wanted = WrittenRequirement(
        code="beacon",
        title="Beacon",
        ata="25-60",
        limits={"measure": "days", "every": 100},
        source="Programme rev 3",
        aircraft_type=office.house.aircraft_type.code,
        ladder={"days": [-1]},
    )
    with pytest.raises(Invalid) as refused:
        write_requirement(actor=office.actor("controller"), wanted=wanted)
    assert refused.value.reasons[0].field == "days"
    assert Requirement.objects.filter(code="beacon").count() == 0


def test_one_ladder_that_makes_no_sense_does_not_silence_the_others() -> None:
    office = make_office(left=6, ladder={"days": "often"})
    assert office.look().written == 1


def test_the_jobs_look_at_every_operator_and_send(mailoutbox: list[EmailMessage]) -> None:
    office, other = make_office(left=10), make_office(left=10)
    write_reminders.delay()
    send_reminders.delay()
    told = {row.recipient for row in Reminder.objects.filter(channel="product")}
    assert told == {office.person("controller"), other.person("controller")}
    assert sorted(letter.to[0] for letter in mailoutbox) == sorted(person.email for person in told)
