"""What the outbox would mail, and the link in it."""

import re

from django.core import mail
from django_scopes import scope, scopes_disabled

from notifications import outbox
from notifications.models import Message

ADDRESS = re.compile(r"^https?://[^/\s]+(/\S+)$", re.MULTILINE)


def letters():
    """Every message there is, in any organisation, oldest first."""
    with scopes_disabled():
        return list(Message.objects.order_by("pk"))


def link_in(message=None):
    """Send the message, the last where none is named, and return the path of the link in the mail."""
    message = message or letters()[-1]
    with scope(organisation=message.organisation_id):
        assert outbox.deliver(message_id=message.pk) == Message.State.SENT
    sent = mail.outbox[-1]
    assert sent.to == [message.address]
    (path,) = ADDRESS.findall(sent.body)
    return path
