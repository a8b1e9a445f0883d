"""One operator with everything for a whole file of tests; every request is taken back after it was judged."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker

from fleet.common.clock import frozen
from tests.doors.house import make_scene
from tests.doors.scene import PRESENT, Scene


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    """Built once for a file: nothing a test does outlives its request."""
    with django_db_blocker.unblock(), frozen(PRESENT), transaction.atomic():
        yield make_scene()
        transaction.set_rollback(True)


@pytest.fixture
def _django_db_helper(scene: Scene) -> None:
    """The file's one transaction stands in for a transaction around each test."""
