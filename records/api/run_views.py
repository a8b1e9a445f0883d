"""Runs: open, answer, provide, pause, hand over, give up, finish."""

from __future__ import annotations

from typing import Any

from django.http import FileResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag, none_match
from records.api import run_shapes as shapes
from records.models import BenchRun
from records.selectors.runs import RunQuery, content_to_sign, photo_for, run_in_full, runs
from records.services.finishing import finish_run
from records.services.provisions import NewPhoto, add_photo, hand_over, use_equipment, use_lot
from records.services.runs import Entry, Opening, abandon_run, answer_step, open_run, pause_run, resume_run
from scheduling.api.answers import FORBIDS, KEY, MAKES_NO_SENSE, NOT_HERE, PAGING, asked, paged

REFUSALS = {404: NOT_HERE, 409: FORBIDS, 422: MAKES_NO_SENSE}


def tag_of(run: BenchRun) -> str:
    return entity_tag("run", run.pk, run.version)


def answered(view: ApiView, run_id: int, status: int = 200) -> Response:
    """The run as it stands, with its entity tag."""
    run = run_in_full(view.actor, run_id)
    headers = {"ETag": tag_of(run), "Location": f"/api/v1/runs/{run.pk}/"}
    return Response(shapes.RunShape(run).data, status=status, headers=headers)


class RunListView(CommandView):
    """Runs of the operator."""

    @extend_schema(
        operation_id="runs_list",
        parameters=[
            asked("task", "number of a task"),
            asked("aircraft", "registration"),
            asked("state", "open, paused, finished, signed or abandoned"),
            *PAGING,
        ],
        responses={200: paged(shapes.RunRow), 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """Runs that fit, newest first."""
        return self.page(runs(self.actor, RunQuery(**self.query(shapes.RunFilter))), shapes.RunRow)

    @extend_schema(
        operation_id="runs_open",
        parameters=[KEY],
        request=shapes.OpeningShape,
        responses={201: shapes.RunShape, 200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Open a run of a task; 200 where it was open under this key already."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        data = self.parsed(shapes.OpeningShape)
        opening = Opening(data["task"], data["key"], data["started_at"])
        run, repeated = open_run(actor=self.actor, opening=opening)
        return answered(self, run.pk, 200 if repeated else 201)


class RunView(ApiView):
    """One run."""

    @extend_schema(
        operation_id="runs_read",
        responses={200: shapes.RunShape, 304: OpenApiResponse(description="Not changed."), 404: NOT_HERE},
    )
    def get(self, request: Request, run_id: int) -> Response:
        """One run with everything that was entered and its entity tag."""
        run = run_in_full(self.actor, run_id)
        if none_match(request.headers.get("If-None-Match"), tag_of(run)):
            return Response(status=304, headers={"ETag": tag_of(run)})
        return Response(shapes.RunShape(run).data, headers={"ETag": tag_of(run)})


class RunCommand(CommandView):
    """A command on a run: the run as it then stands is the answer."""

    def command(self, request: Request, **url: Any) -> Response:
        run_id = int(url["run_id"])
        if "If-Match" in request.headers:
            self.must_match(tag_of(run_in_full(self.actor, run_id)))
        self.act(run_id)
        return answered(self, run_id)

    def act(self, run_id: int) -> None:
        """Carry the command out; subclasses say how."""
        raise NotImplementedError


class AnswerView(CommandView):
    """Answers to steps."""

    @extend_schema(
        operation_id="runs_answer",
        parameters=[KEY],
        request=shapes.EntryShape,
        responses={201: shapes.AnswerShape, 200: shapes.AnswerShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Answer one step; 200 where the answer was kept under this key already."""
        return super().post(request, run_id=run_id)

    def command(self, request: Request, run_id: int) -> Response:
        entry = Entry(**self.parsed(shapes.EntryShape))
        answer, repeated = answer_step(actor=self.actor, run_id=run_id, entry=entry)
        return Response(shapes.AnswerShape(answer).data, status=200 if repeated else 201)


class EquipmentView(RunCommand):
    """Equipment by role."""

    @extend_schema(
        operation_id="runs_use_equipment",
        parameters=[KEY],
        request=shapes.EquipmentChoice,
        responses={200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Say which equipment fills a role."""
        return super().post(request, run_id=run_id)

    def act(self, run_id: int) -> None:
        data = self.parsed(shapes.EquipmentChoice)
        use_equipment(actor=self.actor, run_id=run_id, role=data["role"], equipment_id=data["equipment"])


class LotView(RunCommand):
    """Fluid."""

    @extend_schema(
        operation_id="runs_use_lot",
        parameters=[KEY],
        request=shapes.LotChoice,
        responses={200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Say which fluid lot was used, and how much was there."""
        return super().post(request, run_id=run_id)

    def act(self, run_id: int) -> None:
        data = self.parsed(shapes.LotChoice)
        use_lot(actor=self.actor, run_id=run_id, lot_id=data["lot"], amount=data["amount"], unit=data["unit"])


class PhotoListView(CommandView):
    """Pictures taken at steps."""

    parser_classes = [MultiPartParser]

    @extend_schema(
        operation_id="runs_add_photo",
        parameters=[KEY],
        request={"multipart/form-data": shapes.PhotoUpload},
        responses={201: shapes.PhotoShape, 200: shapes.PhotoShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Keep a picture (JPEG or PNG, at most 8 MiB); 200 where it was kept under this key already."""
        return super().post(request, run_id=run_id)

    def command(self, request: Request, run_id: int) -> Response:
        data = self.parsed(shapes.PhotoUpload)
        new = NewPhoto(data["step"], data["key"], data["file"].read(), data["taken_at"])
        photo, repeated = add_photo(actor=self.actor, run_id=run_id, new=new)
        return Response(shapes.PhotoShape(photo).data, status=200 if repeated else 201)


class PhotoView(ApiView):
    """One picture itself, for people of the operator only."""

    @extend_schema(
        operation_id="runs_read_photo",
        responses={(200, "image/jpeg"): OpenApiTypes.BINARY, 404: NOT_HERE},
    )
    def get(self, request: Request, run_id: int, photo_id: int) -> FileResponse:
        """The picture as it was sent."""
        photo = photo_for(self.actor, run_id, photo_id)
        answer = FileResponse(photo.file.open("rb"), content_type=photo.media_type)
        answer["ETag"] = f'"{photo.sha256}"'
        answer["Cache-Control"] = "private, max-age=31536000, immutable"
        return answer


class PauseView(RunCommand):
    """Putting a run aside."""

    @extend_schema(
        operation_id="runs_pause",
        parameters=[KEY],
        request=None,
        responses={200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Put the run aside; nothing is lost."""
        return super().post(request, run_id=run_id)

    def act(self, run_id: int) -> None:
        pause_run(actor=self.actor, run_id=run_id)


class ResumeView(RunCommand):
    """Going on with a run."""

    @extend_schema(
        operation_id="runs_resume",
        parameters=[KEY],
        request=None,
        responses={200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Go on with a paused run."""
        return super().post(request, run_id=run_id)

    def act(self, run_id: int) -> None:
        resume_run(actor=self.actor, run_id=run_id)


class HandOverView(RunCommand):
    """Passing a run on."""

    @extend_schema(
        operation_id="runs_hand_over",
        parameters=[KEY],
        request=shapes.HandOverShape,
        responses={200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Pass the run on to a colleague with a word on where it stands."""
        return super().post(request, run_id=run_id)

    def act(self, run_id: int) -> None:
        data = self.parsed(shapes.HandOverShape)
        hand_over(actor=self.actor, run_id=run_id, to_user_id=data["to"], note_words=data["note"])


class AbandonView(RunCommand):
    """Giving a run up."""

    @extend_schema(
        operation_id="runs_abandon",
        parameters=[KEY],
        request=shapes.AbandonShape,
        responses={200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Give the run up with a reason; its task stands open again."""
        return super().post(request, run_id=run_id)

    def act(self, run_id: int) -> None:
        abandon_run(actor=self.actor, run_id=run_id, reason=self.parsed(shapes.AbandonShape)["reason"])


class FinishView(RunCommand):
    """The end of a run."""

    @extend_schema(
        operation_id="runs_finish",
        parameters=[KEY],
        request=shapes.FinishShape,
        responses={200: shapes.RunShape, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Close the run for entries; the verdict is given, and a failure reports its event."""
        return super().post(request, run_id=run_id)

    def act(self, run_id: int) -> None:
        finish_run(actor=self.actor, run_id=run_id, at=self.parsed(shapes.FinishShape)["finished_at"])


class ContentView(ApiView):
    """What there is to sign."""

    @extend_schema(
        operation_id="runs_content", responses={200: shapes.ContentShape, 404: NOT_HERE, 409: FORBIDS}
    )
    def get(self, request: Request, run_id: int) -> Response:
        """Everything a signature would bind, with its digest."""
        return Response(shapes.ContentShape(content_to_sign(self.actor, run_id)).data)
