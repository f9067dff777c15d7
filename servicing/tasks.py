"""What the task queue does for servicing. No rules here: each task calls one process."""

from celery import shared_task
from django_scopes import scopes_disabled

from fleet.core.queue import OrganisationTask
from fleet.models import Organisation
from servicing.duties import accuracy
from servicing.duties.refresh import refresh_all_duties, refresh_awaiting, sweep_awaiting
from servicing.programs import uploads
from servicing.programs.file_format.limits import MOST_SECONDS


@shared_task(base=OrganisationTask)
def project_machines(*, organisation_id: int, machine_ids: list[int]) -> int:
    """Refresh machines whose hours, program or condition moved."""
    return refresh_awaiting(machine_ids=machine_ids)


@shared_task(base=OrganisationTask)
def project_organisation(*, organisation_id: int) -> int:
    """Refresh every machine of one organisation, after a look at how good earlier projections were."""
    accuracy.look_back(organisation=Organisation.objects.get(pk=organisation_id))
    return refresh_all_duties(keep=True)


@shared_task
def project_everything() -> None:
    """Queue one refresh for each organisation; beat calls it every night."""
    for organisation_id in Organisation.objects.values_list("pk", flat=True):
        project_organisation.apply_async(kwargs={"organisation_id": organisation_id})


@shared_task
def sweep() -> int:
    """Refresh the machines no task has come for; beat calls it every minute."""
    return sweep_awaiting()


@shared_task(base=OrganisationTask, soft_time_limit=MOST_SECONDS, time_limit=MOST_SECONDS + 30)
def read_program(*, sent_id: int, organisation_id: int) -> None:
    """Make a draft of a program file that was sent."""
    uploads.read(sent_id)


@shared_task
def sweep_programs() -> int:
    """Hand program files again to the queue that nobody reads; beat calls it every minute."""
    with scopes_disabled():  # whose they are is told to the task that reads each
        return uploads.sweep()
