"""What every API door shares: the actor, idempotency, entity tags, paging."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.db.models import QuerySet
from rest_framework.pagination import CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer, Serializer
from rest_framework.views import APIView

from fleet.common.actor import Actor
from fleet.common.errors import Invalid, NotAllowed, NotSignedIn, Reason
from fleet.common.http import if_match
from fleet.models import ApiToken, User
from fleet.selectors.people import actor_for
from fleet.services.receipts import once

KEY_LENGTH = 100


def actor_of(request: Request) -> Actor:
    """The actor behind an API request, from session or token."""
    if not isinstance(request.user, User):
        raise NotSignedIn("not_signed_in", "Sign in, or send a token.")
    if request.user.must_change_password:
        raise NotAllowed(
            "password_to_change", "Choose a password of your own first: sign in on the desk's page."
        )
    operator_id = request.auth.operator_id if isinstance(request.auth, ApiToken) else None
    chosen = operator_id or request.session.get("operator_id")
    return actor_for(request.user, chosen)


class Pages(CursorPagination):
    """Keyset pages of 50 by default; `?limit=` up to 200, `?cursor=` from the answer's links."""

    page_size = 50
    page_size_query_param = "limit"
    max_page_size = 200
    ordering: Any = "-id"


class ApiView(APIView):
    """A door: parse, call one service or selector, answer."""

    def initial(self, request: Request, *arguments: Any, **url: Any) -> None:
        """After who is asking is settled, read what was sent: a body that cannot be read is refused everywhere."""
        super().initial(request, *arguments, **url)
        _ = request.data

    @property
    def actor(self) -> Actor:
        """Who is asking."""
        if not hasattr(self, "_actor"):
            self._actor = actor_of(self.request)
        return self._actor

    def parsed(self, serializer_class: type[Serializer]) -> dict[str, Any]:
        """The request body, checked for shape; raises field errors."""
        serializer = serializer_class(data=self.request.data)
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def query(self, serializer_class: type[Serializer]) -> dict[str, Any]:
        """The query string, checked for shape; raises field errors."""
        serializer = serializer_class(data=self.request.query_params)
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def page(
        self,
        rows: QuerySet,
        serializer_class: type[BaseSerializer],
        ordering: str | tuple[str, ...] = "-id",
        context: dict[str, Any] | None = None,
    ) -> Response:
        """One keyset page of rows in the given order (end the order with a unique field)."""
        pages = Pages()
        pages.ordering = ordering
        chunk = pages.paginate_queryset(rows, self.request, view=self)
        return pages.get_paginated_response(serializer_class(chunk, many=True, context=context or {}).data)

    def must_match(self, current: str) -> None:
        """Guard an edit with If-Match: 428 when missing, 412 when stale."""
        if_match(self.request.headers.get("If-Match"), current)


class CommandView(ApiView):
    """A door whose POST may be repeated with the same `Idempotency-Key` and is carried out once.

    Subclasses write `command(request, **url) -> Response` instead of `post`.
    """

    def command(self, request: Request, *arguments: Any, **url: Any) -> Response:
        """Carry the command out; subclasses say how."""
        raise NotImplementedError

    def post(self, request: Request, *arguments: Any, **url: Any) -> Response:
        """Carry the command out once per key."""
        key = request.headers.get("Idempotency-Key", "")
        if not key:
            return self.command(request, **url)
        if len(key) > KEY_LENGTH:
            raise Invalid(
                "key_too_long",
                "The Idempotency-Key is too long.",
                Reason("too long", "Idempotency-Key", key[:20] + "…", f"use at most {KEY_LENGTH} characters"),
            )
        answer, repeated = once(
            actor=self.actor,
            key=key,
            request_digest=self._digest(request),
            act=lambda: self._act(request, url),
        )
        status, body, headers = answer
        extra = {"Idempotent-Replay": "true"} if repeated else {}
        return Response(body, status=status, headers={**headers, **extra})

    def _act(self, request: Request, url: dict[str, Any]) -> tuple[int, Any, dict[str, str]]:
        response = self.command(request, **url)
        headers = {name: response[name] for name in ("ETag", "Location") if response.has_header(name)}
        return response.status_code, json.loads(json.dumps(response.data, default=str)), headers

    def _digest(self, request: Request) -> str:
        text = json.dumps([request.path, request.data], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()
