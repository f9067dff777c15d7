"""What an API view asks of the one who calls it. A view that declares nothing is closed."""

from typing import Any

from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from fleet.api.caller import caller

ANY_MEMBER = ""


class IsMember(BasePermission):
    """A member may read; a writing method needs the right that the view's `rights` names for it.

    `rights = {"POST": "plan_orders"}` on the view; ANY_MEMBER lets every member. A method that isn't named is
    refused. A device's token passes only where the view says `open_to_devices = True`.
    """

    message = "Your role does not allow this."

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
