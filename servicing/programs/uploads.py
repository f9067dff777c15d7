"""A program file that was sent: kept, read by a worker, and then a draft or a list of what to put right."""

import logging
from datetime import datetime
from pathlib import PurePath

from celery.exceptions import SoftTimeLimitExceeded
from django.core.files.uploadedfile import UploadedFile
from django.db import OperationalError, transaction
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.errors import FleetError
from fleet.core.languages import spoken_to
from fleet.core.permission import require
from fleet.core.queue import publish_on_commit
from fleet.models import Member
from servicing.models import SentProgram
from servicing.programs.file_format import ProgramFaults, parse
from servicing.programs.file_format.limits import MOST_BYTES, MOST_SECONDS
from servicing.programs.load import load_program

log = logging.getLogger(__name__)

READING, REFUSED, LOADED = SentProgram.State.READING, SentProgram.State.REFUSED, SentProgram.State.LOADED
TOO_LONG = format_lazy(
    gettext_lazy("Reading it took more than {seconds} seconds. Send it in parts."), seconds=MOST_SECONDS
)
DIED = format_lazy(
    gettext_lazy("Reading it stopped {times} times; it may be too large. Send it in parts."),
    times=SentProgram.MOST_TRIES,
)
FAULT = gettext_lazy("Reading it failed; the log says why. Nothing was loaded.")


def receive(*, upload: UploadedFile, member: Member, trial: bool = False) -> SentProgram:
    """Keep a program file for a worker to read. Raises NotAllowed; ProgramFaults where it is too large.

    trial: it is only tried out, so its figures may be invented.
    """
    require(member, "manage_fleet", _("load programmes"))
    name = PurePath((upload.name or "file").replace("\0", "")).name[:200]
    if (upload.size or 0) > MOST_BYTES:
        fault = _("{name} is larger than {most} KB; is it the right file?")
        raise ProgramFaults([fault.format(name=name, most=MOST_BYTES // 1024)])
    with transaction.atomic():
        sent = SentProgram.objects.create(
            organisation=member.organisation, name=name, written=upload.read(), sent_by=member, trial=trial
        )
        _publish(sent)
    return sent


def read(sent_id: int) -> None:
    """Make a draft of a file that was sent, or note in its sender's language what is to be put right.

    The draft and the word of it are one transaction.
    """
    sender = SentProgram.objects.select_related("sent_by__user").get(pk=sent_id).sent_by
    with spoken_to(sender and sender.user):
        _read(sent_id)


def _read(sent_id: int) -> None:
    sent = SentProgram.begin(sent_id, state=REFUSED, faults=[str(DIED)])
    if sent is None:
        return
    try:
        with transaction.atomic():
            if SentProgram.objects.select_for_update().get(pk=sent.pk).state != READING:
                return
            version = load_program(
                organisation=sent.organisation,
                document=parse(bytes(sent.written)),
                member=sent.sent_by,
                draft=True,
                trial=sent.trial,
            )
            _end(sent, state=LOADED, version=version, written=b"")
    except ProgramFaults as error:
        _end(sent, state=REFUSED, faults=error.faults)
    except FleetError as error:
        _end(sent, state=REFUSED, faults=[error.sentence])
    except SoftTimeLimitExceeded:
        _end(sent, state=REFUSED, faults=[str(TOO_LONG)])
    except OperationalError:
        raise  # the sweep tries again
    except Exception:
        log.exception("program file %s can't be read", sent.pk)
        _end(sent, state=REFUSED, faults=[str(FAULT)])


def again(*, sent: SentProgram, member: Member, trial: bool = False) -> SentProgram:
    """Have a file that was refused read once more; trial: as for `receive`. Raises NotAllowed, WrongState."""
    require(member, "manage_fleet", _("load programmes"), sent)
    with transaction.atomic():
        sent = sent.locked(REFUSED)
        sent.read_again(faults=[], trial=sent.trial or trial)
        _publish(sent)
    return sent


def sweep(now: datetime | None = None) -> int:
    """Hand files again to the queue that nobody reads; return how many."""
    stuck = list(SentProgram.objects.stuck(now or timezone.now()))
    for sent in stuck:
        _publish(sent)
    return len(stuck)


def _end(sent: SentProgram, **changes: object) -> None:
    SentProgram.objects.filter(pk=sent.pk, state=READING).update(**changes)


def _publish(sent: SentProgram) -> None:
    publish_on_commit("servicing.tasks.read_program", sent_id=sent.pk, organisation_id=sent.organisation_id)
