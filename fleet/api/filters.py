"""Filters that several lists share."""

from datetime import UTC, datetime
from typing import Any

import django_filters
from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django_filters.fields import IsoDateTimeField


class IdFilter(django_filters.Filter):
    """Rows that name one with this id; no larger than the databases keep."""

    field_class = forms.IntegerField

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, min_value=1, max_value=2**63 - 1, **kwargs)


class MomentField(IsoDateTimeField):
    """A moment in ISO 8601, read as UTC: no database knows every offset that can be written."""

    def to_python(self, value: Any) -> datetime | None:
        moment = super().to_python(value)
        try:
            return moment and moment.astimezone(UTC)
        except OverflowError:
            raise forms.ValidationError(_("The year can't be right.")) from None


class MomentFilter(django_filters.IsoDateTimeFilter):
    """Rows before or after a moment."""

    field_class = MomentField


class OrderingFilter(django_filters.OrderingFilter):
    """The order that is asked for; a name left out between commas asks for none."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, label="Sort by this; a minus in front turns the order round.", **kwargs)

    def filter(self, qs: QuerySet, value: Any) -> QuerySet:
        return super().filter(qs, [name for name in value or () if name])
