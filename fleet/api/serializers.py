"""Fields and bodies of the API: they read by the rules of every reading, and pass over nothing in silence."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from fleet.readings.submission import Unreadable, read_hours, read_moment

NO_SUCH_FIELD = _("There is no such field here.")


class MomentField(serializers.DateTimeField):
    """A moment in ISO 8601 with its time zone."""

    def to_internal_value(self, value: Any) -> datetime:
        try:
            return read_moment(value)
        except Unreadable as error:
            raise serializers.ValidationError(error.reason) from None


class HoursField(serializers.DecimalField):
    """What a meter shows: hours, not negative, to a hundredth."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=9, decimal_places=2, **kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        try:
            return read_hours(data)
        except Unreadable as error:
            raise serializers.ValidationError(error.reason) from None


class IdField(serializers.IntegerField):
    """The id of a row; no larger than the databases keep."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=2**63 - 1, **kwargs)


class KnownFieldsSerializer(serializers.Serializer):
    """Refuses a field it doesn't have: what was sent under a misspelt or former name isn't lost unseen."""

    def to_internal_value(self, data: Any) -> Any:
        refused: dict[str, Any] = {}
        if isinstance(data, Mapping):
            refused = {str(name): [NO_SUCH_FIELD] for name in data if name not in self.fields}
        try:
            given = super().to_internal_value(data)
        except serializers.ValidationError as error:
            if refused and isinstance(error.detail, dict):
                raise serializers.ValidationError(refused | error.detail) from None
            raise
        if refused:
            raise serializers.ValidationError(refused)
        return given
