"""The one door through which every hour reading comes in. What people decide about it: `decisions`."""

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone
from django_scopes import scope

from fleet.models import ApiToken, Member, Organisation
from fleet.readings.batch import Batch
from fleet.readings.propagation import hours_moved
from fleet.readings.rejudging import rejudge_after_batch
from fleet.readings.submission import Receipt, Submitted

__all__ = ["Receipt", "Submitted", "take"]

TRIES = 3  # two senders may use one client id at the same moment; the next try then sees the other's row


def take(
    *,
    organisation: Organisation,
    rows: Sequence[Submitted],
    source: str,
    sender: str,
    member: Member | None = None,
    token: ApiToken | None = None,
    now: datetime | None = None,
) -> list[Receipt]:
    """Take in readings, one or thousands; return a receipt for each, in the order of `rows`.

    A row that can't be read or whose machine is unknown is refused, an implausible one is kept as held, and
    neither harms the others. A row is a duplicate when this sender has sent its client id before, or when the
    machine has a reading of that moment and figure. Rows are judged in time order, each against the counted
    readings around it on the same meter, those of the same batch included. The number of queries doesn't grow
    with the number of rows.

    source: one of Reading.Source, the kind of sender. sender: which of that kind, up to 80 characters, ""
    where there is but one; client ids are the sender's own.
    """
    now = now or timezone.now()
    for left in reversed(range(TRIES)):
        batch = Batch(organisation, source, sender, member, token, now)
        try:
            with scope(organisation=organisation), transaction.atomic():
                batch.keep(rows)
                rejudged = rejudge_after_batch(
                    batch.moved, since=batch.earliest, between=batch.between, held=batch.held, now=now
                )
                batch.take_over(rejudged)
                hours_moved(batch.moved, now=now)
                return batch.receipts()
        except IntegrityError:
            if not left:
                raise
    raise AssertionError("the last try returns or raises")
