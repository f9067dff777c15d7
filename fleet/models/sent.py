"""What people send and a worker reads, whatever the file holds."""

from datetime import timedelta
from typing import Any, ClassVar, Self

from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import WrongState
from fleet.core.wording import in_a_sentence
from fleet.models.base import OrganisationOwned


class Sent(OrganisationOwned):
    """A file on its way in.

    Each try to read it is counted before it begins, so a file that kills its worker is given up.
    """

    PATIENCE = timedelta(minutes=2)
    MOST_TRIES = 3  # of reading it
    READING = "reading"  # the state of one that a worker reads, or will
    State: ClassVar[type[models.TextChoices]]

    name = models.CharField(_("name"), max_length=200, help_text=_("What it was called where it came from."))
    sent_by = models.ForeignKey(
        "fleet.Member", verbose_name=_("sent by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    sent_at = models.DateTimeField(_("sent at"), default=timezone.now, editable=False)
    heard_at = models.DateTimeField(_("last sign of reading at"), null=True, editable=False)
    state = models.CharField(_("state"), max_length=10, default=READING)
    tries = models.PositiveSmallIntegerField(
        _("tries"), default=0, help_text=_("How often its reading was begun.")
    )

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name

    def locked(self, *states: str) -> Self:
        """Return it as it is now, locked until the transaction ends. Raises WrongState in any other state."""
        now = type(self).objects.select_for_update().get(pk=self.pk)
        if now.state not in states:
            state = in_a_sentence(now.State(now.state).label)
            raise WrongState(_("{name} is {state} already.").format(name=now.name, state=state))
        return now

    def read_again(self, **changes: Any) -> None:
        """Have it read as if it had just come in, in the caller's transaction."""
        self._keep(state=self.READING, tries=0, heard_at=timezone.now(), **changes)

    @classmethod
    @transaction.atomic
    def begin(cls, pk: int, **given_up: Any) -> Self | None:
        """Count one more try; None where there is nothing to read, or where it is now `given_up`."""
        sent = cls.objects.select_for_update().get(pk=pk)
        if sent.state != cls.READING:
            return None
        tries = sent.tries + 1
        too_often = tries > cls.MOST_TRIES
        sent._keep(tries=tries, heard_at=timezone.now(), **(given_up if too_often else {}))
        return None if too_often else sent

    def _keep(self, **values: Any) -> None:
        for name, value in values.items():
            setattr(self, name, value)
        self.save(update_fields=list(values))
