"""Who was let in again after wrong passwords."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.base import OrganisationOwned


class LetIn(OrganisationOwned):
    """An owner cleared the wrong passwords counted for a person. Kept; never changed."""

    person = models.ForeignKey(
        "fleet.Member", verbose_name=_("person"), on_delete=models.CASCADE, related_name="+"
    )
    by = models.ForeignKey(
        "fleet.Member", verbose_name=_("let in by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    at = models.DateTimeField(_("let in at"), default=timezone.now, editable=False)
    key = models.CharField(
        _("counted under"), max_length=80, editable=False, help_text=_("What their name is counted under.")
    )

    class Meta:
        verbose_name = _("readmission")
        verbose_name_plural = _("readmissions")
        ordering = ["-at"]
        indexes = [models.Index(fields=["key", "at"], name="let_in_by_key")]

    def __str__(self) -> str:
        return _("{person} let in").format(person=self.person)
