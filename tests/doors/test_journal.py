"""The tests of the doors rest on their journal: it must miss nothing, and forget what was taken back."""

import pytest
from django.db import transaction

from fleet.common.actor import Role, Verb
from fleet.common.errors import NotAllowed
from fleet.models import Base
from fleet.services.people import set_roles
from tests.doors.journal import journal
from tests.doors.knocking import everybody, visit
from tests.doors.scene import Scene
from tests.makers import PASSWORD, browser_of

pytestmark = pytest.mark.django_db


def test_every_kind_of_writing_is_noted_and_then_taken_back(scene: Scene) -> None:
    base = scene.house.base
    with journal() as notes:
        added = Base.objects.create(operator=scene.house.operator, code="b", name="B", zone="UTC")
        Base.objects.filter(pk=base.pk).update(name="Changed")
        Base.objects.bulk_create([Base(operator=scene.house.operator, code="c", name="C", zone="UTC")])
        added.delete()

    assert notes.books[:3] == ["INSERT fleet_base", "UPDATE fleet_base", "INSERT fleet_base"]
    assert notes.books[-1] == "DELETE fleet_base"
    assert Base.objects.get(pk=base.pk).name == base.name
    assert not Base.objects.filter(code__in=("b", "c")).exists()


def test_what_a_request_rolled_back_or_what_hit_no_row_is_no_writing(scene: Scene) -> None:
    with journal() as notes:
        with transaction.atomic():
            Base.objects.create(operator=scene.house.operator, code="b", name="B", zone="UTC")
            transaction.set_rollback(True)
        Base.objects.filter(code="nowhere").update(name="X")
        Base.objects.filter(code="nowhere").delete()

    assert notes.books == []


def test_verbs_are_noted_for_the_asker_alone(scene: Scene) -> None:
    auditor, technician = scene.house.actor(Role.AUDITOR), scene.person(Role.TECHNICIAN)
    with journal(auditor.user_id) as notes:
        scene.house.actor(Role.DIRECTOR).may(Verb.PLAN)
        with pytest.raises(NotAllowed):
            set_roles(actor=auditor, person_id=technician.pk, roles=["director"], base_id=None)

    assert notes.asked == [(Verb.EDIT_PEOPLE, False)]
    assert notes.needed == set()
    assert notes.books == []


@pytest.mark.parametrize("address", ["/sign-out/", "/account/password/", "/api/v1/phone/sign-out/"])
def test_a_visit_that_changes_its_session_leaves_the_next_one_signed_in(scene: Scene, address: str) -> None:
    browsers = everybody(scene, browser_of)
    chosen = {"old_password": PASSWORD, "new_password": "seven grey herons"}
    with visit(scene, browsers, Role.AUDITOR) as (browser, _):
        browser.post(address, chosen)
        changed = browser.cookies["sessionid"].value != browsers[Role.AUDITOR].cookies["sessionid"].value
    with visit(scene, browsers, Role.AUDITOR) as (browser, _):
        person = browser.get("/api/v1/phone/session/").json()["person"]

    assert changed
    assert person["id"] == scene.person(Role.AUDITOR).pk
