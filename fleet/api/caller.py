"""Who calls the API, and may they? The middleware has found the token or the member; here DRF is told.

A view that declares nothing is closed.
"""

from typing import Any, cast

from django.contrib.auth.models import AnonymousUser
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from fleet.accounts.middleware import IdentifiedRequest
from fleet.models import Member, Organisation

ANY_MEMBER = ""


def caller(request: Request) -> IdentifiedRequest:
    """Return the request that DRF's stands around."""
    return cast(IdentifiedRequest, request._request)


def member_of(request: Request) -> Member:
    """Return who calls a view that isn't open to devices: the permissions let nobody else in."""
    return cast(Member, caller(request).member)


def organisation_of(request: Request) -> Organisation:
    """Return whose rows a view shows: the permissions let nobody in without."""
    return cast(Organisation, caller(request).organisation)


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer hm_...`: the token of a person or of a device."""

    def authenticate(self, request: Request) -> tuple[Any, Any] | None:
        if "Authorization" not in request.headers:
            return None
        token = caller(request).token
        if (expired := caller(request).expired_token) is not None:
            sentence = _("This token expired on {day}; give it a new secret under API tokens.")
            raise AuthenticationFailed(sentence.format(day=f"{expired.expires_at:%Y-%m-%d}"))
        if token is None:
            raise AuthenticationFailed(
                _("The token is unknown or was revoked; send 'Authorization: Bearer TOKEN'.")
            )
        return (token.member.user if token.member else AnonymousUser(), token)

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="hourmark"'


class MemberSessionAuthentication(SessionAuthentication):
    """The signed-in member's own browser session, with Django's CSRF check."""

    def authenticate(self, request: Request) -> tuple[Any, Any] | None:
        return super().authenticate(request) if caller(request).member else None


class IsMember(BasePermission):
    """A member may read; a writing method needs the right that the view's `rights` names for it.

    `rights = {"POST": "plan_orders"}` on the view; ANY_MEMBER lets every member. A method that isn't named is
    refused. A device's token passes only where the view says `open_to_devices = True`.
    """

    message = gettext_lazy("Your role doesn't allow this.")

    def has_permission(self, request: Request, view: Any) -> bool:
        plain = caller(request)
        if plain.organisation is None:
            return False
        if plain.token and plain.token.is_device:
            return getattr(view, "open_to_devices", False)
        if request.method in SAFE_METHODS:
            right = getattr(view, "reading_right", ANY_MEMBER)
        else:
            right = getattr(view, "rights", {}).get(request.method)
        return right == ANY_MEMBER or (right is not None and getattr(plain.may, right))
