"""A program file that was sent: kept, read by a worker, and then a draft or a list of what to put right."""

import logging
from datetime import datetime
from pathlib import PurePath

from celery.exceptions import SoftTimeLimitExceeded
from django.core.files.uploadedfile import UploadedFile
from django.db import OperationalError, transaction
from django.utils import timezone

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.core.queue import publish_on_commit
from fleet.models import Member
from servicing.models import SentProgram
from servicing.programs.file_format import ProgramFaults, parse
from servicing.programs.file_format.limits import MOST_BYTES, MOST_SECONDS
from servicing.programs.load import load_program

log = logging.getLogger(__name__)

READING, REFUSED, LOADED = SentProgram.State.READING, SentProgram.State.REFUSED, SentProgram.State.LOADED
TOO_LONG = f"Reading it took more than {MOST_SECONDS} seconds. Send it in parts."
DIED = f"Reading it stopped {SentProgram.MOST_TRIES} times; it may be too large. Send it in parts."
FAULT = "Reading it failed; the log says why. Nothing was loaded."


def receive(*, upload: UploadedFile, member: Member, trial: bool = False) -> SentProgram:
    """Keep a program file for a worker to read. Raises NotAllowed; ProgramFaults where it is too large.

    trial: it is only tried out, so its figures may be invented.
    """
    require(member, "manage_fleet", "load programmes")
    name = PurePath((upload.name or "file").replace("\0", "")).name[:200]
    if (upload.size or 0) > MOST_BYTES:
        raise ProgramFaults([f"{name} is larger than {MOST_BYTES // 1024} KB; is it the right file?"])
    with transaction.atomic():
        sent = SentProgram.objects.create(
            organisation=member.organisation, name=name, written=upload.read(), sent_by=member, trial=trial
        )
        _publish(sent)
    return sent


def read(sent_id: int) -> None:
    """Make a draft of a file that was sent, or note what is to be put right.

    The draft and the word of it are one transaction.
    """
    sent = SentProgram.begin(sent_id, state=REFUSED, faults=[DIED])
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
        _end(sent, state=REFUSED, faults=[TOO_LONG])
    except OperationalError:
        raise  # the sweep tries again
    except Exception:
        log.exception("program file %s can't be read", sent.pk)
        _end(sent, state=REFUSED, faults=[FAULT])


def again(*, sent: SentProgram, member: Member, trial: bool = False) -> SentProgram:
    """Have a file that was refused read once more; trial: as for `receive`. Raises NotAllowed, WrongState."""
    require(member, "manage_fleet", "load programmes", sent)
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
