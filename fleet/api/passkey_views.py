"""Passkeys of the person signed in, and what a browser needs to make one or to prove by one."""

from __future__ import annotations

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView
from fleet.selectors.passkeys import passkeys_of
from fleet.services.passkeys import add_passkey, proof_options, registration_options, remove_passkey
from fleet.services.sign_in import prove_password

WRONG_PASSWORD = OpenApiResponse(description="Wrong password, or locked out.")
NONE_SUCH = OpenApiResponse(description="There is no such passkey of yours.")
NOT_FITTING = OpenApiResponse(description="What was sent does not fit what was asked for.")


class PasskeyShape(serializers.Serializer):
    """One passkey: never the key itself."""

    id = serializers.IntegerField()
    label = serializers.CharField()  # type: ignore[assignment]
    created_at = serializers.DateTimeField()
    last_used_at = serializers.DateTimeField(allow_null=True)


class NewPasskeyShape(serializers.Serializer):
    """A passkey just made: the browser's answer, bytes as base64url."""

    label = serializers.CharField(max_length=80)  # type: ignore[assignment]
    credential = serializers.JSONField()


class PasswordShape(serializers.Serializer):
    """The person's own password."""

    password = serializers.CharField(max_length=200, trim_whitespace=False, style={"input_type": "password"})


class WhoseShape(serializers.Serializer):
    """Whose passkey is asked for; empty: one's own."""

    username = serializers.CharField(max_length=150, required=False, default="", allow_blank=True)


class PasskeyListView(ApiView):
    """One's own passkeys."""

    @extend_schema(operation_id="passkeys_list", responses={200: PasskeyShape(many=True)})
    def get(self, request: Request) -> Response:
        """One's own passkeys, newest first."""
        return Response(PasskeyShape(passkeys_of(self.actor), many=True).data)

    @extend_schema(
        operation_id="passkeys_add",
        request=NewPasskeyShape,
        responses={201: PasskeyShape, 403: WRONG_PASSWORD, 422: NOT_FITTING},
    )
    def post(self, request: Request) -> Response:
        """Keep a passkey just made."""
        data = self.parsed(NewPasskeyShape)
        credential = data["credential"] if isinstance(data["credential"], dict) else {}
        kept = add_passkey(
            actor=self.actor, label=data["label"], credential=credential, request=request._request
        )
        return Response(PasskeyShape(kept).data, status=201)


class PasskeyView(ApiView):
    """One of one's own passkeys."""

    @extend_schema(operation_id="passkeys_remove", responses={204: None, 404: NONE_SUCH})
    def delete(self, request: Request, passkey_id: int) -> Response:
        """Take a passkey away."""
        remove_passkey(actor=self.actor, passkey_id=passkey_id)
        return Response(status=204)


class PasskeyOptionsView(ApiView):
    """What a browser needs to make a passkey."""

    @extend_schema(
        operation_id="passkeys_options",
        request=PasswordShape,
        responses={
            200: OpenApiResponse(OpenApiTypes.OBJECT, description="PublicKeyCredentialCreationOptions"),
            403: WRONG_PASSWORD,
        },
    )
    def post(self, request: Request) -> Response:
        """A fresh challenge, after the password: whoever finds a phone unlocked must not add their own key."""
        plain = request._request
        prove_password(actor=self.actor, password=self.parsed(PasswordShape)["password"], request=plain)
        return Response(registration_options(actor=self.actor, request=plain))


class ProofOptionsView(ApiView):
    """What a browser needs to prove somebody by passkey."""

    @extend_schema(
        operation_id="passkeys_proof_options",
        request=WhoseShape,
        responses={
            200: OpenApiResponse(OpenApiTypes.OBJECT, description="PublicKeyCredentialRequestOptions")
        },
    )
    def post(self, request: Request) -> Response:
        """A fresh challenge for a signature."""
        username = self.parsed(WhoseShape)["username"]
        return Response(proof_options(actor=self.actor, username=username, request=request._request))
