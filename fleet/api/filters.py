"""Filters that several lists share."""

from typing import Any

import django_filters
from django import forms


class IdFilter(django_filters.Filter):
    """Rows that name one with this id; no larger than the databases keep."""

    field_class = forms.IntegerField

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, min_value=1, max_value=2**63 - 1, **kwargs)
