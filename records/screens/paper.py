"""What is signed or sealed, as a page shows it: the exact content in readable order, nothing left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from fleet.quantities import unit_of
from records.screens.parts import PartView, level_of, outcome_words, part_views, told_apart
from records.selectors.answer_words import answer_words


@dataclass(frozen=True, slots=True)
class Paper:
    """A payload ready to be shown. Amendments have `text` and no work."""

    payload: Mapping[str, Any]
    outcome: str
    level: str
    reason: str
    measured: str
    parts_apart: tuple[list[PartView], list[PartView]]
    answers: tuple[dict[str, Any], ...]
    measurements: tuple[dict[str, Any], ...]
    started_at: datetime | None
    finished_at: datetime | None

    @property
    def is_work(self) -> bool:
        """Whether it is a piece of work, not an amendment."""
        return "procedure" in self.payload


def paper_of(payload: Mapping[str, Any], zone: str) -> Paper:
    """One payload for its page."""
    detail = payload.get("verdict_detail", {})
    verdict = str(payload.get("verdict", ""))
    measured = str(detail.get("measured", ""))
    return Paper(
        payload=payload,
        outcome=outcome_words(verdict) if verdict else "",
        level=level_of(verdict),
        reason=str(detail.get("reason", "")),
        measured=outcome_words(measured) if measured and measured != verdict else "",
        parts_apart=told_apart(part_views(detail.get("parts", []))),
        answers=tuple(_answer(row, zone) for row in payload.get("answers", [])),
        measurements=tuple(_measurement(row) for row in payload.get("measurements", [])),
        started_at=_moment(payload.get("started_at")),
        finished_at=_moment(payload.get("finished_at")),
    )


def _moment(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def _answer(row: Mapping[str, Any], zone: str) -> dict[str, Any]:
    return {**row, "said": answer_words(row["answer"], zone), "at": _moment(row["captured_at"])}


def _measurement(row: Mapping[str, Any]) -> dict[str, Any]:
    detail = row.get("detail", {})
    written = f"{row['value']}\u00a0{unit_of(row['unit']).label}"
    if detail.get("method") == "weighed":
        unit = unit_of(row["unit"]).label
        written = f"{written} gross, {detail['tare']}\u00a0{unit} tare, {detail['celsius']}\u00a0°C"
    return {
        **row,
        "written": written,
        "level": level_of(row["verdict"]),
        "allowed": detail.get("allowed", ""),
    }
