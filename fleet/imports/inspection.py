"""The first look at a file of readings, by a worker: what kind of table it is, and what its columns may hold.

A page never opens a file: it shows what was kept of the first look.
"""

import logging

from celery.exceptions import SoftTimeLimitExceeded
from django.db import OperationalError, transaction

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.imports import sample
from fleet.imports.column_mapping import guess, learn_habits
from fleet.imports.limits import MOST_SECONDS
from fleet.imports.rows import Numbered, body, machine_zones
from fleet.imports.uploads import TAKE_IN, opened, publish
from fleet.models import Member, SentFile

log = logging.getLogger(__name__)

READING, WAITING, UNREAD = SentFile.State.READING, SentFile.State.WAITING, SentFile.State.UNREAD
TOO_LONG = f"Reading it took more than {2 * MOST_SECONDS:.0f} seconds. Send it in parts, or save it as CSV."
OFTEN = SentFile.MOST_TRIES
DIED = f"Reading it stopped {OFTEN} times; the file may be too large. Send it in parts, or save it as CSV."
FAULT = "Reading it stopped on an error, which is in the log. Nothing was imported."


def read(sent_id: int) -> None:
    """Look at a file that was sent; it then waits for a person, or says why it can't be read.

    Run twice, or at the same time, it does the same once.
    """
    sent = SentFile.begin(sent_id, state=UNREAD, fault=DIED)
    if sent is None:
        return
    try:
        with opened(sent) as table:
            plan = guess(table.sample, known=machine_zones(sent.organisation).keys())
            numbers = Numbered(body(table, plan))
            plan = learn_habits(plan, numbers, habit=sent.organisation.date_order)
            if not numbers.count:
                raise FleetError(f"{sent.name} has headings but no rows.")
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
        sent = sent.locked(UNREAD)
        sent.read_again(fault="")
        publish(sent)
    return sent


def _end(sent: SentFile, **changes: object) -> None:
    SentFile.objects.filter(pk=sent.pk, state=READING).update(**changes)
