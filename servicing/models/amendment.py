"""Corrections of closed orders: what the order said before, who put it right and why."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.models.base import OrganisationOwned
from servicing.models.workorder import WorkOrder


class Amendment(OrganisationOwned):
    """One correction of a closed order. Rows are only ever added, so the first version always stays.

    `before`: what the order said until then, as `servicing.workorders.order_version.of` tells it.
    """

    order = models.ForeignKey(
        WorkOrder, verbose_name=_("order"), on_delete=models.CASCADE, related_name="amendments"
    )
    made_by = models.ForeignKey(Member, verbose_name=_("made by"), on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(_("made at"), default=timezone.now, editable=False)
    reason = models.TextField(_("reason"))
    before = models.JSONField(_("order before"))

    class Meta:
        verbose_name = _("correction")
        verbose_name_plural = _("corrections")
        ordering = ["made_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="amendment_says_why"),
        ]

    def __str__(self) -> str:
        return _("Correction of {order}").format(order=self.order)
