"""Mails that bring a person a one-time link go to that person and to nobody else."""

from fleet.models import Member, Newcomer
from notifications import outbox
from notifications.one_time_links import IN_THE_MAIL
from notifications.words import written


def post(person: Member | Newcomer, asker: Member) -> None:
    """Store the message that brings a person their link, when `members` wants one."""
    about = {"person": person, "asker": asker, "organisation": asker.organisation, "link": IN_THE_MAIL}
    if isinstance(person, Newcomer):
        outbox.post(newcomer=person, link=True, **written("joining", **about))
    else:
        outbox.post(member=person, link=True, **written("password", **about))
