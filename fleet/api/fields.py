"""Fields that read what comes in by the same rules as every reading."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from rest_framework import serializers

from fleet.readings.submission import Unreadable, read_hours, read_moment


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
