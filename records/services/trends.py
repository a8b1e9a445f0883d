"""Trends."""

from __future__ import annotations

from records.models import BenchRun


def refresh_trends_of(run: BenchRun) -> None:
    """Bring the trends of the aircraft up to date after a run was sealed."""
