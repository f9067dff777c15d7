"""Mails that bring a person a one-time link go to that person and to nobody else."""

from fleet.models import Member, Newcomer
from notifications import outbox
from notifications.one_time_links import IN_THE_MAIL

JOINING = """Hello {name},

{asker} has asked you into {organisation}, as {role}.
To come in, follow this link within three days. It works once:

{link}

If you don't know {organisation}, do nothing."""

PASSWORD = """Hello {name},

{asker} of {organisation} has asked for a link with which you choose a new password.
Follow it within three days. It works once:

{link}

Until then your password stays as it is. If you need no new one, do nothing."""


def post(person: Member | Newcomer, asker: Member) -> None:
    """Store the message that brings a person their link, when `members` wants one."""
    organisation = asker.organisation.name
    words = {"name": person, "asker": asker, "organisation": organisation, "link": IN_THE_MAIL}
    if isinstance(person, Newcomer):
        body = JOINING.format(role=person.get_role_display().lower(), **words)
        outbox.post(newcomer=person, subject=f"{organisation} asks you in", body=body, link=True)
    else:
        body = PASSWORD.format(**words)
        outbox.post(member=person, subject=f"{organisation}: choose a new password", body=body, link=True)
