"""What the tables hold, so that a test can say that nothing changed."""

from hashlib import sha256
from typing import Any

from django.apps import apps
from django_scopes import scopes_disabled

APPS = ("fleet", "servicing", "notifications")
NOTED_IN_PASSING = {"last_login", "last_used_at"}  # that somebody came to the door
REFUSALS = "servicing_refusedentries"  # that an order's own entries were refused, for its manager to see


def tables() -> dict[str, tuple[int, str]]:
    """Return the number of rows and a hash of them, for every table of ours and whoever's the rows are."""
    return {model._meta.db_table: _table(model) for model in models() if model._meta.db_table != REFUSALS}


def models() -> list[Any]:
    """Every model of ours, with the tables between."""
    return [model for app in APPS for model in apps.get_app_config(app).get_models(include_auto_created=True)]


def _table(model: Any) -> tuple[int, str]:
    columns = [field.attname for field in model._meta.concrete_fields if field.name not in NOTED_IN_PASSING]
    with scopes_disabled():  # every organisation's rows are looked at
        rows = list(model._base_manager.order_by("pk").values_list(*columns))
    return len(rows), sha256(repr(rows).encode()).hexdigest()
