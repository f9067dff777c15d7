"""Each route's description says who may use it, by the same rights that the route asks for.

What a column is called for people doesn't show in it.
"""

from typing import Any

from django.utils.translation import gettext_noop
from drf_spectacular.openapi import AutoSchema
from rest_framework.permissions import SAFE_METHODS

from fleet.core.roles import RIGHTS

WHO = "x-who-may"
DEVICES = gettext_noop("Devices")


class RouteSchema(AutoSchema):
    """A route's description with `x-who-may`: the roles that may, as pages call them, and devices."""

    def get_operation(self, *args: Any, **kwargs: Any) -> dict[str, Any] | None:
        operation: dict[str, Any] | None = super().get_operation(*args, **kwargs)
        return operation and {**operation, WHO: self._who_may()}

    def _get_serializer_field_meta(self, field: Any, direction: str) -> dict[str, Any]:
        meta: dict[str, Any] = super()._get_serializer_field_meta(field, direction)
        own = getattr(getattr(field.parent, "Meta", None), "extra_kwargs", {}).get(field.field_name, {})
        if "label" not in own:
            meta.pop("title", None)
        return meta

    def _who_may(self) -> list[str]:
        from fleet.models import Member  # the description's class is loaded before there are models

        view: Any = self.view
        if self.method in SAFE_METHODS:
            right = getattr(view, "reading_right", "")
        else:
            right = view.rights[self.method]
        roles = [
            str(Member.Role(role).label) for role, held in RIGHTS.items() if not right or getattr(held, right)
        ]
        return [*roles, *([DEVICES] if getattr(view, "open_to_devices", False) else [])]
