"""Messages of one Monday morning, posted and delivered by hand."""

from collections import Counter
from datetime import UTC, datetime
from email import message_from_string

from notifications import outbox
from notifications.models import Message

NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
PATIENCE = 5.0  # seconds; far more than an answer takes, and waited out only where a test says "hangs"


def post(farm, subject="Two duties", **changed):
    message = outbox.post(member=farm.manager, subject=subject, body="Ängel: öl\n.\n..\nend", now=NOW)
    if changed:
        Message.objects.filter(pk=message.pk).update(**changed)
        message.refresh_from_db()
    return message


def deliver(message, now=NOW):
    outbox.deliver(message_id=message.pk, now=now)
    message.refresh_from_db()
    return message


def subjects(server):
    return Counter(message_from_string(each)["Subject"] for each in server.kept)
