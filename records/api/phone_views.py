"""The phone's own doors: who is signed in and what time it is here, signing in and out, what a label stands for."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import logout
from django.middleware.csrf import get_token
from django.utils.decorators import method_decorator
from django.views.decorators.csrf import csrf_protect
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView
from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.errors import Refusal
from fleet.common.wording import hours
from fleet.models import Base, User
from fleet.selectors.aircraft import component_for, place_of
from fleet.selectors.meters import component_times
from fleet.services.sign_in import sign_in
from scheduling.api.answers import NOT_HERE


class WhoShape(serializers.Serializer):
    """The person who works on this phone, and what their role may do."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    username = serializers.CharField()
    base = serializers.CharField(allow_blank=True)
    may = serializers.ListField(child=serializers.CharField())


class SessionShape(serializers.Serializer):
    """Who is signed in (null: nobody), the server's time, and the token that commands must carry."""

    person = WhoShape(allow_null=True)
    server_time = serializers.DateTimeField()
    token = serializers.CharField()


class SignInShape(serializers.Serializer):
    """Name and password."""

    username = serializers.CharField(max_length=150)
    password = serializers.CharField(max_length=200, trim_whitespace=False, style={"input_type": "password"})


class ComponentShape(serializers.Serializer):
    """A component as its label is read: what it is, where it sits, how long it has flown."""

    name = serializers.CharField()
    part_number = serializers.CharField()
    serial_number = serializers.CharField()
    registration = serializers.CharField(allow_blank=True)
    place = serializers.CharField()
    since_new = serializers.CharField()
    since_fitted = serializers.CharField(allow_blank=True)


PHONE_VERBS = (Verb.PERFORM, Verb.SIGN, Verb.INSPECT, Verb.REPORT_EVENT)


class SessionView(ApiView):
    """The session."""

    permission_classes = [AllowAny]

    @extend_schema(operation_id="phone_session", responses={200: SessionShape})
    def get(self, request: Request) -> Response:
        """Who is signed in, what time it is here, and the token for sending."""
        return Response(
            {"person": self._person(request), "server_time": now(), "token": get_token(request._request)},
            headers={"Cache-Control": "no-store"},
        )

    def _person(self, request: Request) -> dict[str, Any] | None:
        user = request.user
        if not isinstance(user, User):
            return None
        try:
            actor = self.actor
        except Refusal:
            return None
        base = Base.objects.filter(pk=actor.base_id).first() if actor.base_id else None
        may = [verb.value for verb in PHONE_VERBS if actor.may(verb)]
        return {
            "id": user.pk,
            "name": user.full_name,
            "username": user.username,
            "base": base.code if base else "",
            "may": may,
        }


@method_decorator(csrf_protect, name="dispatch")
class SignInView(ApiView):
    """Signing in without leaving what is on the phone."""

    permission_classes = [AllowAny]

    @extend_schema(
        operation_id="phone_sign_in",
        request=SignInShape,
        responses={204: None, 403: OpenApiResponse(description="Wrong name or password, or locked out.")},
    )
    def post(self, request: Request) -> Response:
        """Sign in; failures count towards the lock-out."""
        data = self.parsed(SignInShape)
        sign_in(username=data["username"], password=data["password"], request=request._request)
        return Response(status=204)


class SignOutView(ApiView):
    """Signing out."""

    @extend_schema(operation_id="phone_sign_out", request=None, responses={204: None})
    def post(self, request: Request) -> Response:
        """Sign out; what waits on the phone stays there."""
        logout(request._request)
        return Response(status=204)


class LabelledComponentView(ApiView):
    """What a component's label stands for."""

    @extend_schema(operation_id="phone_labelled_component", responses={200: ComponentShape, 404: NOT_HERE})
    def get(self, request: Request, component_id: int) -> Response:
        """The component with its place and times."""
        component = component_for(self.actor, component_id)
        times = component_times(component, now())
        registration, place = place_of(component)
        return Response(
            {
                "name": component.kind.name,
                "part_number": component.part_number,
                "serial_number": component.serial_number,
                "registration": registration,
                "place": place,
                "since_new": hours(times.since_new.minutes),
                "since_fitted": hours(times.since_fitted.minutes) if times.since_fitted else "",
            }
        )
