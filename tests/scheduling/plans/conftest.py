"""Every test here lives on the Sunday before the week it plans."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from fleet.common.clock import frozen
from tests.scheduling.plans.week import SUNDAY_NOON, Hangar, make_hangar


@pytest.fixture(autouse=True)
def sunday() -> Iterator[None]:
    with frozen(SUNDAY_NOON):
        yield


@pytest.fixture
def hangar(db: None) -> Hangar:
    return make_hangar()
