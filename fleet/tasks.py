"""What the task queue does for the fleet. No rules here: each task calls one process."""

from celery import shared_task
from django.utils import timezone
from django_scopes import scopes_disabled

from fleet import signs_of_life
from fleet.core.queue import OrganisationTask
from fleet.imports import inspection, uploads
from fleet.imports.limits import MOST_SECONDS
from fleet.models import TelematicsSource
from fleet.readings import idempotency
from fleet.sign_in import attempts
from fleet.telematics import poll as telematics

AT_ONCE = 500  # sources queued by one look


@shared_task
def pulse() -> None:
    """Write down that work on the queue is done; beat calls it every minute."""
    signs_of_life.sign(signs_of_life.WORK)


@shared_task
def forget_answers() -> int:
    """Delete answers whose time is over; beat calls it every night."""
    with scopes_disabled():  # over all organisations
        return idempotency.forget()


@shared_task
def forget_sign_ins() -> int:
    """Delete counts and records of refused sign-ins that are over; beat calls it every night."""
    return attempts.forget_old(now=timezone.now())


@shared_task(base=OrganisationTask, soft_time_limit=2 * MOST_SECONDS, time_limit=2 * MOST_SECONDS + 30)
def read_file(*, sent_id: int, organisation_id: int) -> None:
    """Look at a file of readings for the first time."""
    inspection.read(sent_id)


@shared_task(base=OrganisationTask)
def take_file(*, sent_id: int, organisation_id: int) -> None:
    """Take in what is left of a file of readings."""
    uploads.run(sent_id)


@shared_task
def sweep_files() -> int:
    """Hand files again to the queue that nobody works on; beat calls it every minute."""
    with scopes_disabled():  # whose they are is told to the task that takes each in
        return uploads.sweep()


@shared_task
def look_for_telematics() -> int:
    """Queue a reading of each source that is due; beat calls it. One queued twice is read once."""
    with scopes_disabled():  # it looks over all organisations
        due = TelematicsSource.objects.due(timezone.now()).values_list("organisation_id", "pk")[:AT_ONCE]
        found = list(due)
    for organisation_id, source_id in found:
        read_telematics.apply_async(kwargs={"organisation_id": organisation_id, "source_id": source_id})
    return len(found)


@shared_task(base=OrganisationTask)
def read_telematics(*, organisation_id: int, source_id: int) -> bool:
    """Read one source, unless it is no longer due."""
    source = TelematicsSource.objects.filter(pk=source_id).first()
    return source is not None and telematics.read(source=source)
