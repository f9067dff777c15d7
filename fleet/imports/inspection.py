"""The first look at a file of readings, by a worker: what kind of table it is, and what its columns may hold.

A page never opens a file: it shows what was kept of the first look.
"""

import logging

from celery.exceptions import SoftTimeLimitExceeded
from django.db import OperationalError, transaction
from django.utils import timezone

from fleet.core.errors import FleetError, WrongState
from fleet.core.permission import require
from fleet.imports import sample
from fleet.imports.column_mapping import guess, learn_habits
from fleet.imports.limits import MOST_SECONDS
from fleet.imports.rows import Numbered, body, machine_zones
from fleet.imports.uploads import TAKE_IN, opened, publish
from fleet.models import Member, SentFile

log = logging.getLogger(__name__)

MOST_TRIES = SentFile.MOST_TRIES
READING, WAITING, UNREAD = SentFile.State.READING, SentFile.State.WAITING, SentFile.State.UNREAD
TOO_LONG = f"Reading it took more than {2 * MOST_SECONDS:.0f} seconds. Send it in parts, or save it as CSV."
DIED = (
    f"Reading it was broken off {MOST_TRIES} times; it may be too much. Send it in parts, or save it as CSV."
)
FAULT = "Reading it was broken off by a fault that has been written to the log. Nothing was taken in."


def read(sent_id: int) -> None:
    """Look at a file that was sent; it then waits for a person, or says why it can't be read.

    Each try is counted before it begins, so a file that kills its worker is given up. Run twice, or at the
    same time, it does the same once.
    """
    sent = _begun(sent_id)
    if sent is None:
        return
    try:
        with opened(sent) as table:
            plan = guess(table.sample, known=machine_zones(sent.organisation).keys())
            numbers = Numbered(body(table, plan))
            plan = learn_habits(plan, numbers, habit=sent.organisation.date_order)
            if not numbers.count:
                raise FleetError(f"{sent.name} has a heading and no rows.")
        _end(
            sent,
            state=WAITING,
            look=f"{table.kind}, {table.look or f'sheet {table.sheet}'}"[:80],
            plan=plan.to_keep(),
            sample=sample.to_keep(table.sample),
            rows=numbers.count,
        )
    except FleetError as error:
        _end(sent, state=UNREAD, fault=error.sentence)
    except SoftTimeLimitExceeded:
        _end(sent, state=UNREAD, fault=TOO_LONG)
    except OperationalError:
        raise  # the sweep tries again
    except Exception:
        log.exception("file %s can't be read", sent.pk)
        _end(sent, state=UNREAD, fault=FAULT)


def again(*, sent: SentFile, member: Member) -> SentFile:
    """Have a file that couldn't be read looked at once more. Raises NotAllowed, WrongState."""
    require(member, "manage_fleet", TAKE_IN, sent)
    with transaction.atomic():
        sent = SentFile.objects.select_for_update().get(pk=sent.pk)
        if sent.state != UNREAD:
            raise WrongState(f"{sent.name} is {sent.get_state_display().lower()} already.")
        sent.state, sent.tries, sent.fault, sent.heard_at = READING, 0, "", timezone.now()
        sent.save(update_fields=["state", "tries", "fault", "heard_at"])
        publish(sent)
    return sent


def _begun(sent_id: int) -> SentFile | None:
    """Count one more try; None where there is nothing to read, or it was tried often enough."""
    with transaction.atomic():
        sent = SentFile.objects.select_for_update().get(pk=sent_id)
        if sent.state != READING:
            return None
        sent.tries, sent.heard_at = sent.tries + 1, timezone.now()
        if sent.tries > MOST_TRIES:
            sent.state, sent.fault = UNREAD, DIED
        sent.save(update_fields=["tries", "heard_at", "state", "fault"])
    return sent if sent.state == READING else None


def _end(sent: SentFile, **changes: object) -> None:
    SentFile.objects.filter(pk=sent.pk, state=READING).update(**changes)
