"""Token sign-in for programs: `Authorization: Token <key>`; only the SHA-256 of a key is stored."""

from __future__ import annotations

from django.db.models import Q
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from fleet.common.clock import now
from fleet.common.keys import digest_of
from fleet.models import ApiToken, User
from fleet.services.people import touch_token

KEYWORD = "Token"


class TokenAuthentication(BaseAuthentication):
    """Look the key's digest up among living tokens of active people."""

    def authenticate(self, request: Request) -> tuple[User, ApiToken] | None:
        """Return user and token, None where no token was sent; refuse an unknown one."""
        parts = get_authorization_header(request).decode("latin-1").split()
        if not parts or parts[0] != KEYWORD:
            return None
        if len(parts) != 2:
            raise AuthenticationFailed("The Authorization header must read: Token, a space, the key.")
        living = Q(revoked_at=None) & (Q(expires_at=None) | Q(expires_at__gt=now()))
        token = (
            ApiToken.objects.select_related("user")
            .filter(living, digest=digest_of(parts[1]), user__is_active=True)
            .first()
        )
        if token is None:
            raise AuthenticationFailed("This token is not known, has ended or was revoked.")
        touch_token(token=token)
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        """The challenge of a 401 answer."""
        return KEYWORD


class TokenScheme(OpenApiAuthenticationExtension):
    """How the published schema describes the token; found by name when the schema is made."""

    target_class = "fleet.api.tokens.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        """An API key in the Authorization header."""
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "The word Token, a space, and the key.",
        }
