"""One operator with everything for a whole file of tests; every request is taken back after it was judged."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import Client
from pytest_django import DjangoDbBlocker
from rest_framework.test import APIClient

from fleet.common.clock import frozen
from tests.doors.house import make_scene
from tests.doors.knocking import everybody, rows
from tests.doors.scene import PRESENT, Scene
from tests.doors.visits import Visits
from tests.makers import api_of, browser_of


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    """Built once for a file: nothing a test does outlives its request."""
    with django_db_blocker.unblock(), frozen(PRESENT), transaction.atomic():
        yield make_scene()
        transaction.set_rollback(True)


@pytest.fixture
def _django_db_helper(scene: Scene) -> None:
    """The file's one transaction stands in for a transaction around each test."""


@pytest.fixture(scope="module")
def clients(scene: Scene) -> dict[str, APIClient]:
    """Everybody at a program; an error becomes an answer of 500."""
    return everybody(scene, api_of)


@pytest.fixture(scope="module")
def browsers(scene: Scene) -> dict[str, Client]:
    """Everybody at their browser; an error becomes a page of 500."""
    return everybody(scene, browser_of)


@pytest.fixture(scope="module")
def visits(scene: Scene, browsers: dict[str, Client]) -> Visits:
    return Visits(scene, browsers)


@pytest.fixture(scope="module")
def standing(scene: Scene, clients: dict[str, APIClient], browsers: dict[str, Client]) -> dict[str, set[str]]:
    """All rows as they stand before every request."""
    return rows()
