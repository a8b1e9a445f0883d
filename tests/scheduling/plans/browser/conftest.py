"""The server answers in a thread of its own: here the held present is the same in every thread."""

from __future__ import annotations

from datetime import datetime

import pytest

from tests.scheduling.plans.week import SUNDAY_NOON


class Held:
    """The present, whoever asks."""

    def get(self) -> datetime:
        return SUNDAY_NOON


@pytest.fixture(autouse=True)
def sunday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fleet.common.clock._held", Held())
