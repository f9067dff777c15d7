"""The base of the factories: rows are made with the organisation's scope open, as the domain would."""

from typing import Any

import factory
from django_scopes import scopes_disabled


class ScopedFactory(factory.django.DjangoModelFactory):
    """Creates its row without needing an opened scope, so that a fixture may run before one is open."""

    class Meta:
        abstract = True

    @classmethod
    def _create(cls, model_class: Any, *args: Any, **kwargs: Any) -> Any:
        with scopes_disabled():  # a factory names the organisation itself
            return super()._create(model_class, *args, **kwargs)
