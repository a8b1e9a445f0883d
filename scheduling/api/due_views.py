"""The due list: pages, counts, one item explained, what if, exports, kept views."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.http import HttpResponse, StreamingHttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.common.clock import now
from fleet.common.errors import Invalid, Reason
from fleet.common.http import entity_tag
from fleet.quantities import parse_hours
from fleet.selectors.people import operator_of
from scheduling.api import due_shapes as shapes
from scheduling.api.answers import IF_MATCH, KEY, MAKES_NO_SENSE, NOT_HERE, STALE
from scheduling.reports.due_export import csv_lines, workbook_of
from scheduling.reports.due_list import MOST_ROWS, due_list_pdf
from scheduling.selectors.due_item import DueExplained, explain_due, page_rows
from scheduling.selectors.due_list import counts, exported, filtered, page_of
from scheduling.selectors.due_query import DueQuery, query_from
from scheduling.selectors.programme import saved_views, without_last_done
from scheduling.selectors.what_if import WhatIfList, if_done_on, if_flies, if_limits_were
from scheduling.services.applicability import LastDone, set_last_done, stop_applicability
from scheduling.services.due import raise_due_tasks, refresh_moved
from scheduling.services.saved_views import forget_view, keep_view

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def tag_of(found: DueExplained) -> str:
    """The entity tag of one item: what was last done, under which version of its requirement."""
    return entity_tag("due", found.row.id, f"{found.requirement_version}-{found.version}")


def last_done_sent(data: dict[str, Any]) -> LastDone:
    """A last-done as sent, its hours read into minutes."""
    counters = dict(data["counters"])
    if "hours" in counters:
        counters["hours"] = parse_hours(counters["hours"], field="counters.hours")
    return LastDone(data["day"], counters, data["proof"], data["note"])


class DueListView(ApiView):
    """The due list."""

    @extend_schema(
        operation_id="due_list",
        parameters=[shapes.DuePageAsked],
        responses={200: shapes.DuePageShape, 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """One page, most urgent first; items judged at this moment."""
        refresh_moved(self.actor.operator_id)
        query = query_from(request.query_params)
        page = page_of(filtered(self.actor, query), query)
        rows = page_rows(self.actor, page.ids, query.sort)
        cursors = {"next_cursor": page.next_cursor, "previous_cursor": page.previous_cursor}
        return Response(shapes.DuePageShape({**cursors, "results": rows}).data)


class DueCountsView(ApiView):
    """How many items stand how."""

    @extend_schema(
        operation_id="due_counts",
        parameters=[shapes.DueAsked],
        responses={200: shapes.DueCountsShape, 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """Counts by state under the same filters; asked apart, so that pages need not wait for them."""
        refresh_moved(self.actor.operator_id)
        return Response(shapes.DueCountsShape(counts(self.actor, query_from(request.query_params))).data)


class ExportView(ApiView):
    """The due list as a file; each subclass one format."""

    @property
    def asked(self) -> DueQuery:
        """The filters of the query string."""
        refresh_moved(self.actor.operator_id)
        return query_from(self.request.query_params)


class DueCsvView(ExportView):
    """The due list as CSV."""

    @extend_schema(
        operation_id="due_export_csv",
        parameters=[shapes.DueAsked],
        responses={(200, "text/csv"): OpenApiTypes.STR, 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> StreamingHttpResponse:
        """Every row that fits, in CSV (RFC 4180, UTF-8), sent as it is read."""
        return as_csv(exported(self.actor, self.asked))


def as_csv(rows: Any) -> StreamingHttpResponse:
    """Rows as a CSV attachment."""
    answer = StreamingHttpResponse(csv_lines(rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="due-list.csv"'
    return answer


class DueWorkbookView(ExportView):
    """The due list as XLSX."""

    @extend_schema(
        operation_id="due_export_xlsx",
        parameters=[shapes.DueAsked],
        responses={(200, WORKBOOK): OpenApiTypes.BINARY, 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> HttpResponse:
        """Every row that fits, at most 100,000, as a workbook."""
        return as_file(workbook_of(exported(self.actor, self.asked)), WORKBOOK, "due-list.xlsx")


class DuePdfView(ExportView):
    """The due list on paper."""

    @extend_schema(
        operation_id="due_export_pdf",
        parameters=[shapes.DueAsked],
        responses={(200, "application/pdf"): OpenApiTypes.BINARY, 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> HttpResponse:
        """The first 2,000 rows that fit, with every reason's figures, as PDF."""
        return as_file(paper_of(self, self.asked), "application/pdf", "due-list.pdf")


def paper_of(door: Any, query: DueQuery) -> bytes:
    """The list on paper for whoever asks at a door."""
    page = page_of(filtered(door.actor, query), replace(query, limit=MOST_ROWS))
    words = ", ".join(f"{name.replace('_', ' ')}: {value}" for name, value in query.filters().items())
    return due_list_pdf(
        page_rows(door.actor, page.ids, query.sort), operator_of(door.actor).name, words, now()
    )


def as_file(content: bytes, kind: str, name: str) -> HttpResponse:
    """Bytes as an attachment."""
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


class DueItemView(ApiView):
    """One due item."""

    @extend_schema(operation_id="due_read", responses={200: shapes.DueExplainedShape, 404: NOT_HERE})
    def get(self, request: Request, item_id: int) -> Response:
        """Why it is due when it is, line by line, with its entity tag."""
        return explained(self, item_id)


def explained(door: ApiView, item_id: int, status: int = 200) -> Response:
    """One item with its entity tag."""
    found = explain_due(door.actor, item_id)
    return Response(shapes.DueExplainedShape(found).data, status, headers={"ETag": tag_of(found)})


class LastDoneView(ApiView):
    """What was last done, from the papers."""

    @extend_schema(
        operation_id="due_set_last_done",
        parameters=[IF_MATCH],
        request=shapes.LastDoneSent,
        responses={200: shapes.DueExplainedShape, 404: NOT_HERE, 412: STALE, 422: MAKES_NO_SENSE},
    )
    def put(self, request: Request, item_id: int) -> Response:
        """Enter an opening balance, or correct one."""
        data = self.parsed(shapes.LastDoneSent)
        self.must_match(tag_of(explain_due(self.actor, item_id)))
        set_last_done(actor=self.actor, applicability_id=item_id, last_done=last_done_sent(data))
        return explained(self, item_id)


class DueStopView(CommandView):
    """An item that does not apply."""

    @extend_schema(
        operation_id="due_stop",
        parameters=[KEY],
        request=shapes.ReasonSent,
        responses={204: OpenApiResponse(description="It left the due list."), 404: NOT_HERE},
    )
    def post(self, request: Request, item_id: int) -> Response:
        """Take the item off the due list, with a reason."""
        return super().post(request, item_id=item_id)

    def command(self, request: Request, item_id: int) -> Response:
        reason = self.parsed(shapes.ReasonSent)["reason"]
        stop_applicability(actor=self.actor, applicability_id=item_id, reason=reason)
        return Response(status=204)


class WhatIfView(ApiView):
    """What if an item were done on another day, or its limits were others."""

    @extend_schema(
        operation_id="due_what_if",
        request=shapes.IfAsked,
        responses={200: shapes.WhatIfShape, 404: NOT_HERE, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, item_id: int) -> Response:
        """The due list as it would be; nothing is saved."""
        return Response(shapes.WhatIfShape(self._asked(item_id, self.parsed(shapes.IfAsked))).data)

    def _asked(self, item_id: int, data: dict[str, Any]) -> WhatIfList:
        if data["limits"] is not None and data["day"] is None:
            return if_limits_were(self.actor, item_id, data["limits"])
        if data["day"] is None or data["limits"] is not None:
            reason = Reason("ask for one of both", "day", str(data["day"] or ""), "send a day, or limits")
            raise Invalid("bad_question", reason.sentence(), reason)
        return if_done_on(self.actor, item_id, data["day"])


class IfFliesView(ApiView):
    """What if an aircraft flies otherwise."""

    @extend_schema(
        operation_id="due_what_if_flies",
        request=shapes.IfFliesAsked,
        responses={200: shapes.WhatIfShape, 404: NOT_HERE, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """The due list of the aircraft as it would be; nothing is saved."""
        data = self.parsed(shapes.IfFliesAsked)
        found = if_flies(self.actor, data["aircraft"], data["minutes_per_day"], data["landings_per_day"])
        return Response(shapes.WhatIfShape(found).data)


class RaiseTasksView(CommandView):
    """The work the due list demands."""

    @extend_schema(
        operation_id="due_raise_tasks",
        parameters=[KEY],
        request=None,
        responses={200: shapes.RaisedWorkShape},
    )
    def post(self, request: Request) -> Response:
        """Raise one task for everything due soon or worse that has none open."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        work = raise_due_tasks(actor=self.actor)
        ids = {name: [task.pk for task in getattr(work, name)] for name in ("raised", "joined")}
        body = {**ids, "without_procedure": work.without_procedure}
        return Response(shapes.RaisedWorkShape(body).data)


class UnrecordedView(ApiView):
    """Items without a last-done."""

    @extend_schema(operation_id="due_without_last_done", responses={200: shapes.UnrecordedShape(many=True)})
    def get(self, request: Request) -> Response:
        """Every item that counts from a last-done and has none, those that need one first."""
        return Response(shapes.UnrecordedShape(without_last_done(self.actor), many=True).data)


class SavedViewsView(CommandView):
    """Kept views of the due list."""

    @extend_schema(operation_id="due_views_list", responses={200: shapes.SavedViewShape(many=True)})
    def get(self, request: Request) -> Response:
        """One's own, and those colleagues share."""
        return Response(shapes.SavedViewShape(saved_views(self.actor), many=True).data)

    @extend_schema(
        operation_id="due_views_keep",
        parameters=[KEY],
        request=shapes.SavedViewSent,
        responses={201: shapes.SavedViewShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Keep a view."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        view = keep_view(actor=self.actor, **self.parsed(shapes.SavedViewSent))
        return Response(shapes.SavedViewShape(view).data, 201)


class SavedViewView(ApiView):
    """One kept view."""

    @extend_schema(
        operation_id="due_views_forget",
        responses={204: OpenApiResponse(description="It is forgotten."), 404: NOT_HERE},
    )
    def delete(self, request: Request, view_id: int) -> Response:
        """Forget a view of one's own."""
        forget_view(actor=self.actor, view_id=view_id)
        return Response(status=204)
