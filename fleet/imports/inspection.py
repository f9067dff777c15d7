"""The first look at a file of readings, by a worker: what kind of table it is, and what its columns may hold.

A page never opens a file: it shows what was kept of the first look.
"""

import logging

from celery.exceptions import SoftTimeLimitExceeded
from django.db import OperationalError, transaction
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.imports import sample
from fleet.imports.first_readings import MOST_MACHINES, MOST_ROWS
from fleet.imports.fleet import Fleet
from fleet.imports.limits import MOST_SECONDS
from fleet.imports.looking import look_over
from fleet.imports.plan import Plan
from fleet.imports.table import Table
from fleet.imports.uploads import TAKE_IN, for_sender, opened, publish
from fleet.models import Member, SentFile

FIGURE = 40  # characters of a cell that may name a machine, a day or hours
MOST_KEPT = MOST_MACHINES * (MOST_ROWS + 1)
log = logging.getLogger(__name__)

READING, WAITING, UNREAD = SentFile.State.READING, SentFile.State.WAITING, SentFile.State.UNREAD
TOO_LONG = format_lazy(
    gettext_lazy("Reading it took more than {most} seconds. Send it in parts, or save it as CSV."),
    most=f"{2 * MOST_SECONDS:.0f}",
)
DIED = format_lazy(
    gettext_lazy(
        "Reading it stopped {often} times; the file may be too large. Send it in parts, or save it as CSV."
    ),
    often=SentFile.MOST_TRIES,
)
FAULT = gettext_lazy("Reading it stopped on an error, which is in the log. Nothing was imported.")


def read(sent_id: int) -> None:
    """Look at a file that was sent; it then waits for a person, or says why it can't be read.

    Run twice, or at the same time, it does the same once.
    """
    with for_sender(SentFile.objects.select_related("sent_by__user").get(pk=sent_id)):
        _read(sent_id)


def _read(sent_id: int) -> None:
    sent = SentFile.begin(sent_id, state=UNREAD, fault=str(DIED))
    if sent is None:
        return
    try:
        with opened(sent) as table:
            found = look_over(table, Fleet.of(sent.organisation), habit=sent.organisation.date_order)
            if not found.rows:
                raise FleetError(_("{name} has headings but no rows.").format(name=sent.name))
        _end(
            sent,
            state=WAITING,
            look=_look(table, found.plan)[:80],
            plan=found.plan.to_keep(),
            sample=sample.to_keep(found.sample),
            firsts=sample.to_keep(found.firsts, MOST_KEPT, FIGURE),
            rows=found.rows,
        )
    except FleetError as error:
        _end(sent, state=UNREAD, fault=error.sentence)
    except SoftTimeLimitExceeded:
        _end(sent, state=UNREAD, fault=str(TOO_LONG))
    except OperationalError:
        raise  # the sweep tries again
    except Exception:
        log.exception("file %s can't be read", sent.pk)
        _end(sent, state=UNREAD, fault=str(FAULT))


def again(*, sent: SentFile, member: Member) -> SentFile:
    """Have a file that couldn't be read looked at once more. Raises NotAllowed, WrongState."""
    require(member, "manage_fleet", TAKE_IN, sent)
    with transaction.atomic():
        sent = sent.locked(UNREAD)
        sent.read_again(fault="")
        publish(sent)
    return sent


def _look(table: Table, plan: Plan) -> str:
    """What kind of file it is, for a person."""
    if table.look:
        written = str(table.look)
    elif plan.layout is not None and plan.layout.sheets:
        written = _("all its sheets")
    else:
        written = _("sheet {name}").format(name=table.sheet)
    return f"{table.kind}, {written}"


def _end(sent: SentFile, **changes: object) -> None:
    SentFile.objects.filter(pk=sent.pk, state=READING).update(**changes)
