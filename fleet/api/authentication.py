"""How the API knows who asks. The middleware has found the token or the member; here DRF is told."""

from typing import Any

from django.contrib.auth.models import AnonymousUser
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from fleet.api.caller import caller


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer hm_...`: the token of a person or of a device."""

    def authenticate(self, request: Request) -> tuple[Any, Any] | None:
        if "Authorization" not in request.headers:
            return None
        token = caller(request).token
        if (expired := caller(request).expired_token) is not None:
            raise AuthenticationFailed(
                f"This token expired on {expired.expires_at:%Y-%m-%d}; give it a new secret under Tokens."
            )
        if token is None:
            raise AuthenticationFailed(
                "The token is unknown or was revoked; send 'Authorization: Bearer TOKEN'."
            )
        return (token.member.user if token.member else AnonymousUser(), token)

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="hourmark"'


class MemberSessionAuthentication(SessionAuthentication):
    """The signed-in member's own browser session, with Django's CSRF check."""

    def authenticate(self, request: Request) -> tuple[Any, Any] | None:
        return super().authenticate(request) if caller(request).member else None
