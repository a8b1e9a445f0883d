"""The worked examples in the trend room's docstrings hold."""

import doctest
import importlib

import pytest

ROOM = [
    "broken_stick", "control_charts", "crossing", "distributions", "fault_causes", "faults", "fleet_statistics",
    "mann_kendall", "outliers", "panel_life", "panels", "removal_rates", "series", "side_trend", "spread",
    "straight_line", "trend", "trend_terms", "worded",
]  # fmt: skip


@pytest.mark.parametrize("name", ROOM)
def test_worked_examples_hold(name):
    assert doctest.testmod(importlib.import_module(f"records.judge.{name}")).failed == 0
