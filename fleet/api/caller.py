"""Who calls the API, as the middleware found it."""

from typing import cast

from rest_framework.request import Request

from fleet.accounts.middleware import IdentifiedRequest
from fleet.models import Member, Organisation


def caller(request: Request) -> IdentifiedRequest:
    """Return the request that DRF's stands around."""
    return cast(IdentifiedRequest, request._request)


def member_of(request: Request) -> Member:
    """Return who calls a view that isn't open to devices: the permissions let nobody else in."""
    return cast(Member, caller(request).member)


def organisation_of(request: Request) -> Organisation:
    """Return whose rows a view shows: the permissions let nobody in without."""
    return cast(Organisation, caller(request).organisation)
