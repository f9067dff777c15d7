"""The base of every row that belongs to one organisation."""

from typing import Any

from django.db import models
from django_scopes import ScopedManager


def scoped(queryset: type[models.QuerySet] = models.QuerySet) -> Any:
    """Return a manager over `queryset` that raises ScopeError outside an opened organisation scope."""
    return ScopedManager(models.Manager.from_queryset(queryset), organisation="organisation")


class OrganisationOwned(models.Model):
    """A row of one organisation. A query outside `scope(organisation=...)` raises."""

    organisation = models.ForeignKey("fleet.Organisation", on_delete=models.CASCADE, related_name="+")

    objects = scoped()

    class Meta:
        abstract = True
