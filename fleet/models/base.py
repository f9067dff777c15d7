"""The base of every row that belongs to one organisation."""

from typing import TYPE_CHECKING

from django.db import models
from django.utils.translation import gettext_lazy as _
from django_scopes import ScopedManager

if TYPE_CHECKING:
    ScopingManager = models.Manager
else:  # django-scopes builds the class inside a function, where no type checker sees it
    ScopingManager = type(ScopedManager(organisation="organisation"))


class OrganisationManager(ScopingManager):
    """A manager that raises ScopeError outside an opened organisation scope."""


class OrganisationOwned(models.Model):
    """A row of one organisation. A query outside `scope(organisation=...)` raises."""

    organisation = models.ForeignKey(
        "fleet.Organisation", verbose_name=_("organisation"), on_delete=models.CASCADE, related_name="+"
    )

    objects = OrganisationManager()

    class Meta:
        abstract = True
