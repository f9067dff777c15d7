"""Column types used all over the house."""

from typing import Any

from django.db import models


class HoursField(models.DecimalField):
    """Hours of running, to a hundredth."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 9)
        kwargs.setdefault("decimal_places", 2)
        super().__init__(*args, **kwargs)


class MoneyField(models.DecimalField):
    """An amount in the organisation's currency."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 12)
        kwargs.setdefault("decimal_places", 2)
        super().__init__(*args, **kwargs)
