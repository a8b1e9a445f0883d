"""What is entered while the server is being asked: its answer, older by then, writes nothing over."""

from __future__ import annotations

from playwright.sync_api import Route, expect

from records.models import StepAnswer
from tests.mobile import work
from tests.mobile.phone import Phone
from tests.records.makers import Workshop

LOAD = (
    "import('/static/records/mobile/core/bundle.js').then((it) => { window.loading = it.refreshBundle(); })"
)


def test_todays_work_that_comes_late_does_not_write_over_what_was_entered_meanwhile(
    phone: Phone, purged: Workshop
) -> None:
    work.begin(phone)
    phone.all_sent()
    slow: list[tuple[Route, object]] = []
    phone.page.route("**/api/v1/work-bundle/", lambda route: slow.append((route, route.fetch())))
    with phone.page.expect_request("**/api/v1/work-bundle/"):
        phone.page.evaluate(LOAD)
    work.until_wet(phone)
    phone.all_sent()
    phone.tap("Fluid on: start the clock")
    phone.page.locator(".outlet").first.tap()
    phone.see("1 of 2 wet")
    for route, answer in slow:
        route.fulfill(response=answer)
    phone.page.evaluate("window.loading")
    phone.see("1 of 2 wet")
    phone.tap("All steps")
    phone.see("3 of 7 steps")
    phone.kept('"wet":{"outlet-wing-left":')
    phone.reload()
    phone.see("3 of 7 steps")
    assert StepAnswer.objects.filter(run__task=purged.task("panel-flow-test")).count() == 3


def test_a_run_the_server_will_not_show_stays_as_it_was(phone: Phone, purged: Workshop) -> None:
    work.begin(phone)
    phone.all_sent()
    phone.page.route("**/api/v1/work-bundle/", _without_tasks)
    phone.page.route(
        "**/api/v1/runs/*/", lambda route: route.fulfill(status=404, json={"detail": "Not here."})
    )
    phone.page.evaluate(LOAD)
    assert phone.page.evaluate("window.loading") is True
    phone.open("")
    expect(phone.page.get_by_text("In work, 0 of 7 steps")).to_be_visible()


def _without_tasks(route: Route) -> None:
    answer = route.fetch()
    route.fulfill(response=answer, json=answer.json() | {"tasks": []})
