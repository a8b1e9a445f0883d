"""What the fleet's doors share in their schema: pages, versions, and the refusals worth naming."""

from __future__ import annotations

from functools import cache

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, inline_serializer
from rest_framework import serializers

NOT_YOURS = OpenApiResponse(description="Your role may not do this; nothing was changed.")
NOT_HERE = OpenApiResponse(description="There is no such thing here.")
FORBIDS = OpenApiResponse(description="The state of things forbids this; the problem names the reasons.")
STALE = OpenApiResponse(description="It was changed after it was read; read it again.")
MAKES_NO_SENSE = OpenApiResponse(description="Some fields make no sense; the problem names each.")
NO_VERSION = OpenApiResponse(description="Send If-Match with the entity tag that was read.")
REFUSALS = {403: NOT_YOURS, 404: NOT_HERE, 409: FORBIDS, 422: MAKES_NO_SENSE}
EDIT_REFUSALS = {**REFUSALS, 412: STALE, 428: NO_VERSION}
KEY = OpenApiParameter(
    "Idempotency-Key",
    location=OpenApiParameter.HEADER,
    description="A key of the sender's own; the same key again gets the same answer and does nothing twice.",
)
IF_MATCH = OpenApiParameter(
    "If-Match", location=OpenApiParameter.HEADER, required=True, description="The entity tag that was read."
)
PAGING = [
    OpenApiParameter("limit", int, description="How many rows a page holds, at most 200."),
    OpenApiParameter("cursor", description="Where the page begins, from a page's links."),
]


class WallTime(OpenApiSerializerFieldExtension):
    """A time on the clock of a base, which has no zone of its own; the format `time` of a schema demands one."""

    target_class = "rest_framework.serializers.TimeField"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, str]:
        """Hours and minutes, seconds where they are sent."""
        return {"type": "string", "pattern": r"^\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?$"}


@cache
def paged(shape: type[serializers.Serializer]) -> serializers.Serializer:
    """The shape of one page of rows."""
    return inline_serializer(
        f"PageOf{shape.__name__}",
        {
            "next": serializers.URLField(allow_null=True),
            "previous": serializers.URLField(allow_null=True),
            "results": shape(many=True),
        },
    )


def asked(name: str, description: str) -> OpenApiParameter:
    """One word of a query string."""
    return OpenApiParameter(name, description=description)
