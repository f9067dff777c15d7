"""Mails that bring a person a one-time link go to that person and to nobody else."""

from fleet.core.languages import spoken_to
from fleet.models import Member, Newcomer
from notifications import outbox
from notifications.one_time_links import IN_THE_MAIL
from notifications.words import written


def post(person: Member | Newcomer, asker: Member) -> None:
    """Store the message that brings a person their link, when `members` wants one.

    It is written in that person's language; of a newcomer, who has no account yet, none is known.
    """
    about = {"person": person, "asker": asker, "organisation": asker.organisation, "link": IN_THE_MAIL}
    if isinstance(person, Newcomer):
        with spoken_to(None):
            outbox.post(newcomer=person, link=True, **written("joining", **about))
    else:
        with spoken_to(person.user):
            outbox.post(member=person, link=True, **written("password", **about))
