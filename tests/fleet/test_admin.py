"""The administration pages show everything and change nothing."""

from typing import Any

import pytest
from django.contrib import admin
from django.test import Client

from fleet.admin import SHOWN
from fleet.models import Aircraft, User
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def page() -> Client:
    client = Client()
    client.force_login(User.objects.create_superuser("root", password=makers.PASSWORD))
    return client


@pytest.mark.parametrize("table", SHOWN, ids=lambda table: table.__name__)
def test_every_list_opens(page: Client, table: Any) -> None:
    makers.make_house()

    assert page.get(f"/admin/fleet/{table._meta.model_name}/").status_code == 200


def test_even_a_superuser_adds_changes_and_deletes_nothing(page: Client) -> None:
    aircraft = makers.make_house(registration="QX-SKA").aircraft
    place = f"/admin/fleet/aircraft/{aircraft.pk}"

    assert "QX-SKA" in page.get(f"{place}/change/").content.decode()
    assert page.post(f"{place}/change/", {"registration": "QX-???"}).status_code == 403
    assert page.post(f"{place}/delete/", {"post": "yes"}).status_code == 403
    assert page.get("/admin/fleet/aircraft/add/").status_code == 403
    assert Aircraft.objects.get().registration == "QX-SKA"


def test_no_secret_is_shown_and_nothing_in_the_room_can_be_written_here(page: Client) -> None:
    house = makers.make_house()
    person = house.person("controller")

    assert person.password not in page.get(f"/admin/fleet/user/{person.pk}/change/").content.decode()
    assert all(
        not option.has_change_permission(None)
        for table, option in admin.site._registry.items()
        if table._meta.app_label == "fleet"
    )
