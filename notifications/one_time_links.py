"""The one-time link of a message: made when the message is handed to the mail server, and kept nowhere.

The message that is kept, and that owners may read, has a line in its place, in the language of the mail.
"""

from django.conf import settings
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext_lazy as _

from fleet.accounts import invitations, members
from fleet.core.languages import LANGUAGES
from fleet.models import Newcomer
from notifications.models import Message

IN_THE_MAIL = _("(The link is here in the mail. It is kept nowhere else.)")


def body(message: Message) -> str:
    """Return a message's words as they are mailed: with a link made now, where it brings one."""
    if not message.link:
        return message.body
    address, words = _address(message), message.body
    for line in _lines():
        words = words.replace(line, address)
    return words if address in words else f"{words}\n\n{address}"  # its line was once worded otherwise


def _lines() -> set[str]:
    """Return the line in every language: a message may be sent long after it was written, by a worker."""
    said = set()
    for language, _name in LANGUAGES:
        with translation.override(language):
            said.add(str(IN_THE_MAIL))
    return said


def _address(message: Message) -> str:
    person = message.person
    if isinstance(person, Newcomer):
        path = reverse("join", args=[invitations.secret_of(person)])
    else:
        invitation = members.invite(user=person.user)
        path = reverse("welcome", args=[invitation.uid, invitation.secret])
    return f"{settings.SITE_URL}{path}"
