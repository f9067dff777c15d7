"""One-time links go out by mail, to the person they are for and to nobody else.

A link is made when its message is handed to the mail server. The message that is kept, and that owners may
read, has a line in its place.
"""

from django.conf import settings
from django.urls import reverse

from fleet import newcomers, people
from fleet.models import Member, Newcomer
from notifications import outbox
from notifications.models import Message

IN_THE_MAIL = "(The link stands here in the mail. It is kept nowhere else.)"

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
    """Store the message that brings a person their link. For `fleet.people.when_a_link_is_wanted`."""
    organisation = asker.organisation.name
    words = {"name": person, "asker": asker, "organisation": organisation, "link": IN_THE_MAIL}
    if isinstance(person, Newcomer):
        body = JOINING.format(role=person.get_role_display().lower(), **words)
        outbox.post(newcomer=person, subject=f"{organisation} asks you in", body=body, link=True)
    else:
        body = PASSWORD.format(**words)
        outbox.post(member=person, subject=f"{organisation}: choose a new password", body=body, link=True)


def body(message: Message) -> str:
    """Return a message's words as they are mailed: with a link made now, where it brings one."""
    return message.body.replace(IN_THE_MAIL, _address(message)) if message.link else message.body


def _address(message: Message) -> str:
    if message.newcomer:
        path = reverse("join", args=[newcomers.secret_of(message.newcomer)])
    else:
        invitation = people.invite(user=message.member.user)
        path = reverse("welcome", args=[invitation.uid, invitation.secret])
    return f"{settings.SITE_URL}{path}"
