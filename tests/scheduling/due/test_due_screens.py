"""The screens of due list, programme, variations and relief: what each role sees, does, and is refused."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from fleet.common.actor import Role
from fleet.common.clock import now
from scheduling.models import (
    Applicability,
    FlyingPlan,
    Relief,
    ReliefCategory,
    Requirement,
    SavedView,
    Variation,
    VariationTable,
)
from scheduling.selectors.due_item import explain_due
from scheduling.services.due import refresh_due
from tests.makers import House, browser_of, make_house
from tests.scheduling.due.makers import (
    HUNDRED_HOURS,
    TWELVE_MONTHS,
    apply,
    first_of,
    make_procedure,
    make_requirement,
)
from tests.words import plain

pytestmark = pytest.mark.django_db
BANDS = [{"measure": "hours", "up_to": "5000:00", "percent": "10"}]


@pytest.fixture
def house() -> House:
    house = make_house(registration="QX-SKA", minutes=65_500)
    table = VariationTable.objects.create(
        operator=house.operator, name="Table", source="S", approval="PV-1", bands=BANDS
    )
    row = make_requirement(house.operator, procedure=make_procedure(house.operator), variation_table=table)
    apply(row, house.aircraft, day=date(2025, 3, 1), hours=60_000)
    ReliefCategory.objects.create(operator=house.operator, code="C", days=10, source="MEL")
    refresh_due()
    return house


def item() -> Applicability:
    return Applicability.objects.get()


PAGES = ["due-list", "due-unrecorded", "what-if", "programme", "variations", "relief", "flying-plans"]


def test_every_role_sees_the_pages_and_finds_no_button_that_is_not_its_own(house: House) -> None:
    for role in Role:
        client = browser_of(house.person(role))
        for name in PAGES:
            assert client.get(reverse(f"scheduling:{name}")).status_code == 200, (role, name)
        listed = client.get(reverse("scheduling:due-list")).content.decode()
        assert ("Raise due work" in listed) == (role in (Role.CONTROLLER, Role.DIRECTOR))
        shown = client.get(reverse("scheduling:due-item", args=[item().pk])).content.decode()
        assert ("Grant a variation" in shown) == (role is Role.DIRECTOR)
        assert ("Enter last done" in shown) == (role in (Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR))


def test_a_row_answers_why_in_place(house: House) -> None:
    page = plain(browser_of(house.person("technician")).get(reverse("scheduling:due-list")).content.decode())
    assert "1 000:00 h + 100:00 h = 1 100:00 h." in page
    assert "flight hours: 8:20 h left, due at 1 100:00 h" in page


def test_why_a_limit_has_no_day_is_said_once_in_its_row(house: House) -> None:
    page = browser_of(house.person("technician")).get(reverse("scheduling:due-item", args=[item().pk]))
    (limit,) = explain_due(house.actor("technician"), item().pk).limits
    assert limit.projection == f"no date: {limit.basis}"
    assert f"{limit.projection}</td>" in page.content.decode()


def test_the_numbers_of_the_tabs_come_apart(house: House) -> None:
    found = browser_of(house.person("director")).get(reverse("scheduling:due-counts")).json()
    assert found == {"all": 1, "overdue": 0, "due": 0, "unknown": 0, "due_soon": 1, "ok": 0}


def test_a_stranger_gets_not_found(house: House) -> None:
    client = browser_of(make_house().person("director"))
    for name in ("due-item", "due-item-pdf", "last-done", "grant-variation", "stop-item", "if-done"):
        assert client.get(reverse(f"scheduling:{name}", args=[item().pk])).status_code == 404
    assert client.get(reverse("scheduling:requirement", args=["check-100"])).status_code == 404


def test_a_line_is_written_changed_applied_and_retired(house: House) -> None:
    client = browser_of(house.person("controller"))
    form = {
        "code": "annual", "title": "Annual", "ata": "05-10", "source": "P3", "consequence": "airworthiness",
        "combine": "first", "limit_1_measure": "months", "limit_1_every": "600", "limit_2_measure": "hours",
        "limit_2_every": "99000:00", "limit_2_soon": "50:00", "limit_2_anchor": "from_due", "read_version": "0",
    }  # fmt: skip
    assert client.post(reverse("scheduling:new-requirement"), form).status_code == 302
    row = Requirement.objects.get(code="annual")
    assert row.limits == {
        "combine": "first",
        "of": [
            {"measure": "months", "every": 600},
            {"measure": "hours", "every": "99000:00", "soon": "50:00", "anchor": "from_due"},
        ],
    }
    change = reverse("scheduling:change-requirement", args=["annual"])
    shown = client.get(change).content.decode()
    assert 'value="99000:00"' in shown
    assert client.post(change, form | {"title": "Every year", "read_version": "1"}).status_code == 302
    assert Requirement.objects.get(code="annual", is_current=True).version == 2
    client.post(reverse("scheduling:apply-requirement", args=["annual"]))
    assert Applicability.objects.filter(code="annual").count() == 1
    client.post(reverse("scheduling:retire-requirement", args=["annual"]), {"reason": "superseded"})
    assert Requirement.objects.get(code="annual", is_current=True).retired_on == now().date()


def test_a_fault_of_a_limit_stands_beside_its_field(house: House) -> None:
    client = browser_of(house.person("controller"))
    form = {
        "code": "x", "title": "X", "ata": "05", "source": "P", "consequence": "none", "combine": "first",
        "limit_1_measure": "months", "limit_1_every": "12", "limit_3_measure": "hours", "limit_3_every": "0:00",
    }  # fmt: skip
    answer = client.post(reverse("scheduling:new-requirement"), form)
    assert answer.status_code == 422
    assert answer.context["form"].errors == {"limit_3_every": ["is zero or below. Write a limit above zero."]}
    assert not Requirement.objects.filter(code="x").exists()


def test_limits_that_rows_cannot_say_are_shown_as_data(house: House) -> None:
    limits = first_of(
        HUNDRED_HOURS, {"combine": "last", "of": [TWELVE_MONTHS, {"measure": "days", "every": 9}]}
    )
    make_requirement(house.operator, "nested", limits=limits)
    page = browser_of(house.person("controller")).get(
        reverse("scheduling:change-requirement", args=["nested"])
    )
    assert '"combine": "last"' in page.context["form"].initial["limits_data"]


def test_a_last_done_in_the_future_is_refused_beside_its_field(house: House) -> None:
    client = browser_of(house.person("controller"))
    answer = client.post(
        reverse("scheduling:last-done", args=[item().pk]), {"day": "2999-01-01", "hours": "900:00"}
    )
    assert answer.status_code == 422
    assert "lies in the future" in answer.context["form"].errors["day"][0]
    answer = client.post(
        reverse("scheduling:last-done", args=[item().pk]), {"day": "2025-03-02", "hours": "1010:00"}
    )
    assert answer.status_code == 302
    assert item().last_done["counters"] == {"hours": 60_600}


def test_the_director_grants_and_withdraws_a_variation(house: House) -> None:
    client = browser_of(house.person("director"))
    address = reverse("scheduling:grant-variation", args=[item().pk])
    answer = client.post(address, {"path": "1", "amount": "11:00", "reason": "no bay"})
    assert answer.status_code == 422
    assert "amount" in answer.context["form"].errors
    assert client.post(address, {"path": "1", "amount": "5:00", "reason": "no bay"}).status_code == 302
    granted = Variation.objects.get()
    assert "no bay" in client.get(reverse("scheduling:due-item", args=[item().pk])).content.decode()
    assert "Variation granted" in client.get(reverse("scheduling:due-list")).content.decode()
    client.post(reverse("scheduling:withdraw-variation", args=[granted.pk]), {"reason": "bay found"})
    granted.refresh_from_db()
    assert granted.withdrawn_at is not None


def test_a_table_is_written_in_lines(house: House) -> None:
    client = browser_of(house.person("director"))
    form = {"name": "T2", "source": "S", "approval": "A", "bands": "hours - 5000:00 10 -\nmonths - 36 - 1m"}
    assert client.post(reverse("scheduling:new-variation-table"), form).status_code == 302
    assert VariationTable.objects.get(name="T2").bands == [
        {"measure": "hours", "up_to": "5000:00", "percent": "10"},
        {"measure": "months", "up_to": 36, "cap": {"months": 1}},
    ]
    answer = client.post(reverse("scheduling:new-variation-table"), form | {"bands": "hours - 0 10 -"})
    assert "bands" in answer.context["form"].errors


def test_relief_is_recorded_and_closed(house: House) -> None:
    client = browser_of(house.person("controller"))
    form = {
        "aircraft": "QX-SKA", "category": "C", "item": "30-11-1", "reference": "MEL 4", "restriction": "no icing",
        "covers": "icing", "recorded_at": "2025-03-03T12:00",
    }  # fmt: skip
    assert client.post(reverse("scheduling:grant-relief"), form).status_code == 302
    granted = Relief.objects.get()
    listed = plain(client.get(reverse("scheduling:relief")).content.decode())
    assert "expired at the midnight ending 13 Mar 2025" in listed
    client.post(reverse("scheduling:close-relief", args=[granted.pk]), {"reason": "mended"})
    granted.refresh_from_db()
    assert granted.closed_reason == "mended"


def test_what_if_and_flying_plans(house: House) -> None:
    client = browser_of(house.person("controller"))
    answer = client.get(reverse("scheduling:what-if"), {"aircraft": "QX-SKA", "hours": "1:00"})
    assert "If QX-SKA flies 1:00 h a day from today on" in plain(answer.content.decode())
    answer = client.get(reverse("scheduling:if-done", args=[item().pk]), {"day": now().date().isoformat()})
    assert "done 8:20 h early" in plain(answer.content.decode())
    plan = {
        "aircraft": "QX-SKA", "from_day": "2099-01-01", "to_day": "2099-01-09", "minutes_per_day": "6:00",
        "landings_per_day": "4.5",
    }  # fmt: skip
    assert client.post(reverse("scheduling:flying-plans"), plan).status_code == 302
    assert client.post(reverse("scheduling:flying-plans"), plan).status_code == 422
    entered = FlyingPlan.objects.get()
    assert entered.minutes_per_day == 360
    client.post(reverse("scheduling:remove-plan", args=[entered.pk]))
    assert not FlyingPlan.objects.exists()


def test_a_view_is_kept_and_forgotten(house: House) -> None:
    client = browser_of(house.person("director"))
    client.post(
        reverse("scheduling:keep-view"), {"name": "Icing soon", "query": "consequence=icing&window=30"}
    )
    view = SavedView.objects.get()
    assert view.query == {"consequence": "icing", "window": 30, "sort": "due"}
    assert "Icing soon" in client.get(reverse("scheduling:due-list")).content.decode()
    client.post(reverse("scheduling:forget-view", args=[view.pk]))
    assert not SavedView.objects.exists()


def test_a_file_is_looked_at_and_then_brought_in(house: House) -> None:
    client = browser_of(house.person("controller"))
    text = b"code,title,ata,source,months\nannual,Annual,05-10,P3,600\n"

    def send(content: bytes, **values: str):
        file = SimpleUploadedFile("p.csv", content)
        return client.post(
            reverse("scheduling:programme-import"), {"kind": "programme", "file": file, **values}
        )

    assert "1 row: 1 new" in send(text).content.decode().replace("\xa0", " ")
    assert not Requirement.objects.filter(code="annual").exists()
    bad = send(text + b"bad,Bad,05,P3,0\n", bring_in="on")
    assert bad.status_code == 422
    assert "row 3, months" in bad.content.decode()
    assert send(text, bring_in="on").status_code == 302
    assert Requirement.objects.filter(code="annual").exists()


def test_the_files_and_papers_open(house: House) -> None:
    client = browser_of(house.person("auditor"))
    for kind in ("csv", "xlsx", "pdf"):
        assert client.get(reverse(f"scheduling:due-{kind}"), {"state": "due_soon"}).status_code == 200
    assert client.get(reverse("scheduling:due-item-pdf", args=[item().pk])).content.startswith(b"%PDF-")


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.INSPECTOR, Role.AUDITOR])
def test_a_form_sent_by_who_may_not_changes_nothing(house: House, role: Role) -> None:
    client = browser_of(house.person(role))
    before = list(Requirement.objects.values()), list(Applicability.objects.values())
    client.post(reverse("scheduling:retire-requirement", args=["check-100"]), {"reason": "r"})
    client.post(reverse("scheduling:stop-item", args=[item().pk]), {"reason": "r"})
    client.post(reverse("scheduling:raise-due-tasks"))
    client.post(
        reverse("scheduling:grant-variation", args=[item().pk]),
        {"path": "1", "amount": "1:00", "reason": "r"},
    )
    assert (list(Requirement.objects.values()), list(Applicability.objects.values())) == before
    assert not Variation.objects.exists()
