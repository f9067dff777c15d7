"""Parts and other supplies, and what was used."""

from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.core.wording import exact
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import MoneyField


class PartQuerySet(models.QuerySet):
    def with_stocks(self) -> "PartQuerySet":
        """With what lies in each yard, so that `in_stock` asks nothing more."""
        return self.prefetch_related("stocks")


class Part(OrganisationOwned):
    """A part, oil or other supply by its number."""

    number = models.CharField(_("number"), max_length=60)
    name = models.CharField(_("name"), max_length=120)
    grade = models.CharField(_("grade"), max_length=120, blank=True)
    unit = models.CharField(_("unit"), max_length=12, default="pc")
    unit_cost = MoneyField(_("unit cost"), default=0)
    equivalents = models.ManyToManyField(
        "self", verbose_name=_("substitutes"), blank=True, help_text=_("Parts that can be used in its place.")
    )

    objects: ClassVar = OrganisationManager.from_queryset(PartQuerySet)()

    class Meta:
        verbose_name = _("part")
        verbose_name_plural = _("parts")
        ordering = ["name", "number"]
        constraints = [models.UniqueConstraint("organisation", Lower("number"), name="part_number_once")]

    def __str__(self) -> str:
        return f"{self.name} {self.number}"

    @property
    def in_stock(self) -> Decimal:
        """How much lies in all yards together, in the part's unit."""
        return sum((stock.quantity for stock in self.stocks.all()), Decimal(0))


class Stock(OrganisationOwned):
    """How much of a part lies in one yard, and when to order more.

    The quantity may go below nought: then more was used than was counted before.
    """

    part = models.ForeignKey(Part, verbose_name=_("part"), on_delete=models.CASCADE, related_name="stocks")
    yard = models.ForeignKey(
        "fleet.Yard", verbose_name=_("yard"), on_delete=models.CASCADE, related_name="stocks"
    )
    quantity = models.DecimalField(_("quantity"), max_digits=10, decimal_places=2, default=0)
    reorder_point = models.DecimalField(_("reorder point"), max_digits=10, decimal_places=2, default=0)

    class Meta:
        verbose_name = _("stock level")
        verbose_name_plural = _("stock levels")
        constraints = [
            models.UniqueConstraint(fields=["part", "yard"], name="stock_once_a_yard"),
            models.CheckConstraint(condition=Q(reorder_point__gte=0), name="reorder_point_not_negative"),
        ]

    def __str__(self) -> str:
        said = gettext("{quantity} {unit} {part} in {yard}")
        return said.format(quantity=exact(self.quantity), unit=self.part.unit, part=self.part, yard=self.yard)


class PartUsed(OrganisationOwned):
    """What an order used of a part, at the cost of that day."""

    order = models.ForeignKey(
        "servicing.WorkOrder", verbose_name=_("order"), on_delete=models.CASCADE, related_name="parts"
    )
    part = models.ForeignKey(Part, verbose_name=_("part"), on_delete=models.PROTECT, related_name="uses")
    quantity = models.DecimalField(_("quantity"), max_digits=9, decimal_places=2)
    unit_cost = MoneyField(_("unit cost"))

    class Meta:
        verbose_name = _("part used")
        verbose_name_plural = _("parts used")
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="part_use_positive")]

    def __str__(self) -> str:
        return f"{exact(self.quantity)} {self.part.unit} {self.part.name}"
