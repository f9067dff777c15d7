"""What is kept where somebody did a thing although the machine's calendar spoke against it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class Overruling:
    """What spoke against it, in sentences; why it was done all the same, who said so (by name), and when."""

    against: tuple[str, ...]
    reason: str
    by: str
    at: datetime

    def kept(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return {
            "against": list(self.against),
            "reason": self.reason,
            "by": self.by,
            "at": self.at.isoformat(),
        }


class Overruled(models.Model):
    """A hire, a booking or an order that may have been made against the machine's calendar."""

    overruled = models.JSONField(
        _("overruled"),
        default=list,
        editable=False,
        blank=True,
        help_text=_("Oldest first; only added to."),
    )

    class Meta:
        abstract = True

    def overrulings(self) -> list[Overruling]:
        """Return what was overruled, oldest first."""
        return [
            Overruling(tuple(each["against"]), each["reason"], each["by"], datetime.fromisoformat(each["at"]))
            for each in self.overruled
        ]

    def keep(self, overruling: Overruling | None) -> None:
        """Add one, if there is one; saving is the caller's."""
        if overruling:
            self.overruled = [*self.overruled, overruling.kept()]
