"""The one-time link of a message: made when the message is handed to the mail server, and kept nowhere.

The message that is kept, and that owners may read, has a line in its place.
"""

from django.conf import settings
from django.urls import reverse

from fleet.accounts import invitations, members
from fleet.models import Newcomer
from notifications.models import Message

IN_THE_MAIL = "(The link is here in the mail. It is kept nowhere else.)"


def body(message: Message) -> str:
    """Return a message's words as they are mailed: with a link made now, where it brings one."""
    return message.body.replace(IN_THE_MAIL, _address(message)) if message.link else message.body


def _address(message: Message) -> str:
    person = message.person
    if isinstance(person, Newcomer):
        path = reverse("join", args=[invitations.secret_of(person)])
    else:
        invitation = members.invite(user=person.user)
        path = reverse("welcome", args=[invitation.uid, invitation.secret])
    return f"{settings.SITE_URL}{path}"
