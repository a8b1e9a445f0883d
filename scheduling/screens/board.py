"""The fleet board: every aircraft with its status and reasons, and what stands in the way."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator

from fleet.common.actor import Verb
from fleet.screens.base import Screen
from fleet.selectors.aircraft import aircraft_types
from scheduling.screens.words import LEVELS, SHORT, base_choices, reason_url, status_parts
from scheduling.selectors.board import STATES, BoardQuery, BoardRow, board, owed

ROWS = 50


class BoardScreen(Screen):
    """Every aircraft, the worst first."""

    template_name = "scheduling/board.html"

    def page(self) -> dict[str, Any]:
        """Rows, counts on top, filters; the second view lists what stops something."""
        query = query_of(self.request.GET)
        seen = board(self.actor, query)
        rows = [(row, status_parts(row.status)) for row in seen.rows]
        return {
            "page": Paginator(rows, ROWS).get_page(self.request.GET.get("page")),
            "counts": [(s.value, SHORT[s], LEVELS[s], seen.counts[s]) for s in reversed(STATES)],
            "total": seen.total,
            "chosen": query.status,
            "is_filtered": query != BoardQuery(sort=query.sort),
            "in_the_way": sum(len(_stopping(row)) for row in seen.rows),
            "may_report": self.actor.may(Verb.REPORT_EVENT),
            **filters(self),
        }


def _stopping(row: BoardRow) -> list[object]:
    return [reason for reason in row.status.reasons if LEVELS[reason.state] != "clear"]


class OwedScreen(Screen):
    """What is overdue or open, what it stops, and who owns it."""

    template_name = "scheduling/owed.html"

    def page(self) -> dict[str, Any]:
        """One line for everything that stops something, worst first."""
        lines = owed(self.actor, query_of(self.request.GET))
        rows = [(line, LEVELS[line.reason.state], reason_url(line.reason)) for line in lines]
        return {
            "page": Paginator(rows, ROWS).get_page(self.request.GET.get("page")),
            "unowned": sum(line.owner is None for line in lines),
            "aircraft": len({line.aircraft.pk for line in lines}),
            **filters(self),
        }


def query_of(query: Any) -> BoardQuery:
    """The board query of a page's query string."""
    return BoardQuery(
        search=query.get("q", ""),
        base=query.get("base", ""),
        type=query.get("type", ""),
        status=query.get("status", ""),
        sort=query.get("sort", ""),
    )


def filters(screen: Screen) -> dict[str, Any]:
    """What the filters of both views offer."""
    return {
        "bases": base_choices(screen.actor),
        "types": list(aircraft_types(screen.actor).values_list("code", "name")),
        "statuses": [(state.value, SHORT[state]) for state in reversed(STATES)],
    }
