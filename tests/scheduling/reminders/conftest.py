"""Every test here begins at noon of DAY."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from fleet.common.clock import frozen
from tests.makers import NOON


@pytest.fixture(autouse=True)
def noon() -> Iterator[None]:
    with frozen(NOON):
        yield
