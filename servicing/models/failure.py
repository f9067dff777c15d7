"""Safety checks that failed, kept apart from the order's record, which may be corrected or cancelled."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models import Machine, Member
from servicing.models.check import Check
from servicing.models.line import CheckValues, Line
from servicing.models.workorder import WorkOrder


class SafetyFailure(CheckValues):
    """A check that failed and tagged its machine out. It stands until it is made again and passes.

    Nothing done to the order takes it back: it is written as soon as the value comes in, also where the rest
    of what came with it was refused.
    """

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="safety_failures"
    )
    order = models.ForeignKey(
        WorkOrder, verbose_name=_("order"), on_delete=models.CASCADE, related_name="safety_failures"
    )
    line = models.ForeignKey(
        Line,
        verbose_name=pgettext_lazy("of an order", "line"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="safety_failures",
    )
    check_made = models.ForeignKey(
        Check, verbose_name=_("check"), on_delete=models.PROTECT, related_name="failures"
    )
    recorded_by = models.ForeignKey(
        Member, verbose_name=_("recorded by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    recorded_at = models.DateTimeField(_("recorded at"), default=timezone.now)
    re_tested_by = models.ForeignKey(
        Member,
        verbose_name=_("re-tested by"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    re_tested_at = models.DateTimeField(_("re-tested at"), null=True, blank=True)
    re_test = models.CharField(
        _("re-test"), max_length=120, blank=True, help_text=_("The value at which it passed.")
    )

    class Meta:
        verbose_name = _("failed safety check")
        verbose_name_plural = _("failed safety checks")
        ordering = ["-recorded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(re_tested_at=None, re_tested_by=None)
                | Q(re_tested_at__isnull=False, re_tested_by__isnull=False),
                name="failure_re_tested_by_a_named_person",
            ),
        ]
        indexes = [
            models.Index(fields=["machine"], condition=Q(re_tested_at=None), name="failure_standing"),
        ]
