"""The week through its doors: API and pages, allowed and denied, at the same cost however full the week."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test.utils import CaptureQueriesContext

from scheduling.models import Bay, GroundTime, Shift, Slot, Task, WeekPlan
from scheduling.services.plans import publish_week
from tests.makers import AircraftMaker, api_of, browser_of, make_house
from tests.scheduling.makers import TaskMaker
from tests.scheduling.plans.week import MONDAY, Hangar, wall

WEEK = "/api/v1/week-plans/"


@pytest.fixture(autouse=True)
def quick_planner(settings: Any) -> None:
    settings.PLANNER_SECONDS = 2.0


def ask(hangar: Hangar, role: str = "controller", **more: Any) -> Any:
    body = {"base": hangar.base.code, "monday": MONDAY.isoformat()} | more
    return api_of(hangar.person(role)).post(WEEK, body)


def page(hangar: Hangar, role: str, **asked: str) -> HttpResponse:
    query = {"base": hangar.base.code, "monday": MONDAY.isoformat()} | asked
    return browser_of(hangar.person(role)).get("/week/", query)  # type: ignore[return-value]


def test_a_week_is_asked_for_worked_out_moved_and_published_over_the_api(
    hangar: Hangar, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        asked = ask(hangar)
    assert (asked.status_code, asked.data["state"]) == (202, "asked")
    api = api_of(hangar.person("controller"))
    place = asked["Location"]
    draft = api.get(place)
    assert draft.data["state"] == "draft"
    assert [slot["title"] for slot in draft.data["slots"]] == ["Panel purge", "Panel flow test"]
    moved = api.post(f"{place}move/", {"task": hangar.test.pk, "starts_at": wall(2, 10).isoformat()})
    assert moved.status_code == 200
    assert moved.data["slots"][1]["is_pinned"] is True
    assert api.post(f"{place}publish/").status_code == 428
    assert api.post(f"{place}publish/", headers={"If-Match": draft["ETag"]}).status_code == 412
    done = api.post(f"{place}publish/", headers={"If-Match": moved["ETag"]})
    assert (done.status_code, done.data["state"]) == (200, "published")
    listed = api.get(WEEK, {"base": hangar.base.code})
    assert [row["state"] for row in listed.data["results"]] == ["published"]


def test_a_move_that_cannot_stand_is_a_problem_with_its_reasons(hangar: Hangar) -> None:
    plan = hangar.planned()
    answer = api_of(hangar.person("controller")).post(
        f"{WEEK}{plan.pk}/move/", {"task": hangar.test.pk, "starts_at": wall(5, 10).isoformat()}
    )
    assert answer.status_code == 409
    assert answer.data["code"] == "slot_cannot_stand"
    assert any("is not on the ground" in one["detail"] for one in answer.data["errors"])


@pytest.mark.parametrize("role", ["technician", "inspector", "auditor", "administrator"])
def test_who_does_not_plan_is_denied_at_every_door_and_nothing_is_written(hangar: Hangar, role: str) -> None:
    plan = hangar.planned()
    api, browser = api_of(hangar.person(role)), browser_of(hangar.person(role))
    before = list(Slot.objects.order_by("pk").values())
    assert ask(hangar, role).status_code == 403
    assert api.get(f"{WEEK}{plan.pk}/").status_code == 404
    for path, body in (
        (f"{WEEK}{plan.pk}/move/", {"task": hangar.test.pk, "starts_at": wall(2, 10).isoformat()}),
        (f"{WEEK}{plan.pk}/unpin/", {"task": hangar.test.pk}),
        (f"{WEEK}{plan.pk}/take-out/", {"task": hangar.test.pk}),
        ("/api/v1/bays/", {"base": hangar.base.code, "name": "Bay 9"}),
    ):
        assert api.post(path, body).status_code == 403, path
    for path in ("ask", "draft"):
        form = {"base": hangar.base.code, "monday": MONDAY.isoformat()}
        assert browser.post(f"/week/{path}/", form).status_code == 403
    for path in ("move", "publish", "discard", "unpin", "take-out"):
        assert browser.post(f"/week/{plan.pk}/{path}/", {"task": hangar.test.pk}).status_code in (403, 404)
    assert list(Slot.objects.order_by("pk").values()) == before
    assert (WeekPlan.objects.get().state, Bay.objects.count()) == ("draft", 2)


def test_a_stranger_and_somebody_not_signed_in_find_nothing(hangar: Hangar) -> None:
    plan = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    stranger = make_house().person("controller")
    assert api_of(stranger).get(f"{WEEK}{plan.pk}/").status_code == 404
    assert api_of(stranger).get(WEEK, {"base": hangar.base.code}).data["results"] == []
    assert api_of().get(WEEK).status_code in (401, 403)
    assert browser_of().get("/week/").status_code == 302


def test_places_are_entered_and_taken_away_over_the_api(hangar: Hangar) -> None:
    api = api_of(hangar.person("controller"))
    days = {"base": hangar.base.code, "first_day": "2025-03-17", "last_day": "2025-03-18"}
    times = days | {"starts": "08:00", "ends": "16:00"}
    shifts = api.post("/api/v1/shifts/", times | {"person": hangar.person("technician").pk})
    assert (shifts.status_code, len(shifts.data)) == (201, 2)
    again = api.post("/api/v1/shifts/", times | {"person": hangar.person("technician").pk})
    assert (again.status_code, again.data["code"]) == (422, "overlaps")
    ground = api.post("/api/v1/ground-times/", times | {"aircraft": str(hangar.workshop.aircraft)})
    assert (ground.status_code, len(ground.data)) == (201, 2)
    bay = api.post("/api/v1/bays/", {"base": hangar.base.code, "name": "Bay 3"})
    closed = api.post(f"/api/v1/bays/{bay.data['id']}/close/", {"closed_on": "2025-04-01"})
    assert closed.data["closed_on"] == "2025-04-01"
    assert api.delete(f"/api/v1/shifts/{shifts.data[0]['id']}/").status_code == 204
    assert api.delete(f"/api/v1/ground-times/{ground.data[0]['id']}/").status_code == 204
    assert (Shift.objects.count(), GroundTime.objects.count(), Bay.objects.count()) == (7, 2, 3)
    for path in ("bays", "shifts", "ground-times"):
        assert api.get(f"/api/v1/{path}/", {"base": hangar.base.code}).status_code == 200


def test_the_controller_sees_the_draft_and_the_technician_only_what_is_published(hangar: Hangar) -> None:
    plan = hangar.planned()
    assert "Panel flow test" in page(hangar, "controller").content.decode()
    assert "Panel flow test" not in page(hangar, "technician", whose="base").content.decode()
    publish_week(actor=hangar.controller, plan_id=plan.pk)
    assert "Panel flow test" in page(hangar, "technician", whose="base").content.decode()


def test_who_works_sees_their_own_days_first(hangar: Hangar) -> None:
    plan = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    doer = plan.slots.get(task=hangar.test).people.get()
    other = {hangar.person("technician"), hangar.person("inspector")} - {doer}
    mine = browser_of(doer).get("/week/", {"monday": MONDAY.isoformat()}).content.decode()
    assert "Panel flow test" in mine
    assert "My week" in mine
    away = set(plan.slots.filter(people__in=other).values_list("task__title", flat=True))
    assert "Panel flow test" not in away


def test_the_board_offers_moving_publishing_and_the_reasons(hangar: Hangar) -> None:
    hangar.workshop.operator.equipment.all().update(withdrawn_on=MONDAY)
    hangar.planned()
    html = page(hangar, "controller").content.decode()
    assert "Move to …" in html
    assert "Publish this week?" in html
    assert "1 measuring-cylinder cannot be had" in html
    assert "Place by hand …" in html


def test_a_slot_is_moved_on_the_page_by_the_bases_own_clock(hangar: Hangar) -> None:
    plan = hangar.planned()
    browser = browser_of(hangar.person("controller"))
    form = {"task": hangar.test.pk, "day": "2025-03-12", "time": "10:00", "bay": ""}
    assert browser.post(f"/week/{plan.pk}/move/", form).status_code == 302
    assert plan.slots.get(task=hangar.test).starts_at == wall(2, 10)
    refused = browser.post(
        f"/week/{plan.pk}/move/", form | {"day": "2025-03-15"}, follow=True, HTTP_REFERER="/week/"
    )
    assert "cannot stand at Sat 10:00" in refused.content.decode()
    for wrong in ({"day": "soon"}, {"time": ""}, {"task": "x"}):
        assert browser.post(f"/week/{plan.pk}/move/", form | wrong).status_code == 302
    assert plan.slots.get(task=hangar.test).starts_at == wall(2, 10)


def test_the_page_asks_shows_progress_publishes_and_throws_away(
    hangar: Hangar, django_capture_on_commit_callbacks: Any
) -> None:
    browser = browser_of(hangar.person("controller"))
    week = {"base": hangar.base.code, "monday": MONDAY.isoformat()}
    browser.post("/week/ask/", week)
    plan = WeekPlan.objects.get()
    waiting = browser.get(f"/week/{plan.pk}/progress/").content.decode()
    assert f'data-poll="/week/{plan.pk}/progress/"' in waiting
    assert "data-progress" in browser.get("/week/", week).content.decode()
    hangar.planned()
    ready = browser.get(f"/week/{plan.pk}/progress/").content.decode()
    assert "data-poll" not in ready
    assert "data-next" in ready
    plan.refresh_from_db()
    assert browser.post(f"/week/{plan.pk}/publish/", {"version": plan.version}).status_code == 302
    browser.post("/week/draft/", week)
    draft = WeekPlan.objects.get(state="draft")
    browser.post(f"/week/{draft.pk}/unpin/", {"task": hangar.test.pk})
    browser.post(f"/week/{draft.pk}/take-out/", {"task": hangar.test.pk})
    assert draft.slots.count() == 1
    browser.post(f"/week/{draft.pk}/discard/")
    assert WeekPlan.objects.get().state == "published"


def test_the_pages_of_bays_shifts_and_ground_times_take_and_refuse(hangar: Hangar) -> None:
    browser = browser_of(hangar.person("controller"))
    base = f"?base={hangar.base.code}"
    assert browser.post(f"/week/bays/{base}", {"name": "Bay 3"}).status_code == 302
    assert browser.post(f"/week/bays/{base}", {"name": "Bay 3"}).status_code == 422
    days = {"first_day": "2025-03-17", "last_day": "2025-03-17", "starts": "08:00", "ends": "16:00"}
    form = days | {"weekdays": ["0"]}
    person = {"person": hangar.person("technician").pk}
    assert browser.post(f"/week/shifts/{base}", form | person).status_code == 302
    assert browser.post(f"/week/shifts/{base}", form | person).status_code == 422
    aircraft = {"aircraft": hangar.workshop.aircraft.pk}
    assert browser.post(f"/week/ground-times/{base}", form | aircraft).status_code == 302
    shift, ground = Shift.objects.latest("pk"), GroundTime.objects.latest("pk")
    for path in ("bays", "shifts", "ground-times"):
        assert browser.get(f"/week/{path}/{base}").status_code == 200
    browser.post(f"/week/shifts/{shift.pk}/remove/")
    browser.post(f"/week/ground-times/{ground.pk}/remove/")
    bay = Bay.objects.get(name="Bay 3")
    browser.post(f"/week/bays/{bay.pk}/close/", {"day": "2025-04-01"})
    browser.post(f"/week/bays/{bay.pk}/close/", {"day": "never"})
    bay.refresh_from_db()
    assert (Shift.objects.count(), GroundTime.objects.count(), str(bay.closed_on)) == (6, 1, "2025-04-01")
    assert (
        browser_of(hangar.person("auditor")).post(f"/week/bays/{base}", {"name": "Bay 4"}).status_code == 403
    )
    assert Bay.objects.count() == 3


def test_the_board_costs_the_same_queries_for_many_slots_as_for_few(hangar: Hangar) -> None:
    counts = []
    for round_of in range(2):
        aircraft = AircraftMaker(
            operator=hangar.workshop.operator,
            base=hangar.base,
            aircraft_type=hangar.workshop.house.aircraft_type,
        )
        GroundTime.objects.create(aircraft=aircraft, base=hangar.base, starts_at=wall(0), ends_at=wall(6))
        for number in range(4):
            TaskMaker(aircraft=aircraft, code=f"work-{round_of}-{number}")
        plan = hangar.planned()
        page(hangar, "controller")
        with CaptureQueriesContext(connection) as board:
            page(hangar, "controller")
        with CaptureQueriesContext(connection) as read:
            api_of(hangar.person("controller")).get(f"{WEEK}{plan.pk}/")
        counts.append((plan.slots.count(), len(board), len(read)))
    assert counts[0][0] < counts[1][0]
    assert counts[0][1:] == counts[1][1:]
    assert Task.objects.count() == 10
