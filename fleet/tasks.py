"""What the task queue does for the fleet. No rules here: each task calls one process."""

from celery import shared_task
from django_scopes import scopes_disabled

from fleet import answers, sent_files
from fleet.queue import OrganisationTask


@shared_task
def forget_answers() -> int:
    """Delete answers whose time is over; beat calls it every night."""
    with scopes_disabled():  # over all organisations
        return answers.forget()


@shared_task(base=OrganisationTask)
def take_file(*, sent_id: int, organisation_id: int) -> None:
    """Take in what is left of a file of readings."""
    sent_files.run(sent_id)


@shared_task
def sweep_files() -> int:
    """Hand files again to the queue that nobody works on; beat calls it every minute."""
    with scopes_disabled():  # whose they are is told to the task that takes each in
        return sent_files.sweep()
