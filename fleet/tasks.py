"""What the task queue does for the fleet. No rules here: each task calls one process."""

from celery import shared_task
from django_scopes import scopes_disabled

from fleet import answers


@shared_task
def forget_answers() -> int:
    """Delete answers whose time is over; beat calls it every night."""
    with scopes_disabled():  # over all organisations
        return answers.forget()
