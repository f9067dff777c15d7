"""The outbox: a message is stored first, sent after commit, retried with back-off, and never sent twice.

A message is claimed by a conditional update that commits before the mail server is asked. A process that
dies between asking and noting the answer leaves it in flight; the sweep then calls it interrupted, since
nobody can know whether it went out, and it is not sent again unless a person asks for it.
"""

import logging
import smtplib
from datetime import datetime, timedelta

from django.conf import settings
from django.core.mail import EmailMessage
from django.utils import timezone
from django_scopes import scopes_disabled

from fleet.errors import WrongState
from fleet.models import Member, Newcomer
from fleet.queue import publish_on_commit
from notifications.models import Message

log = logging.getLogger(__name__)

MOST_ATTEMPTS = 8
FIRST_WAIT = timedelta(minutes=2)
IN_FLIGHT_AT_MOST = timedelta(minutes=15)


def post(
    *,
    subject: str,
    body: str,
    member: Member | None = None,
    newcomer: Newcomer | None = None,
    link: bool = False,
    now: datetime | None = None,
) -> Message:
    """Store a message to a member or a newcomer and have it sent once the open transaction has committed.

    link: a one-time link is put in when it is sent (`notifications.links`).
    """
    from notifications.tasks import deliver_message  # the task calls back into this module

    now = now or timezone.now()
    message = Message.objects.create(
        organisation=(member or newcomer).organisation,
        member=member,
        newcomer=newcomer,
        address=member.user.email if member else newcomer.email,
        subject=subject[:200],
        body=body,
        link=link,
        made_at=now,
        next_try_at=now,
    )
    publish_on_commit(deliver_message, organisation_id=message.organisation_id, message_id=message.pk)
    return message


def deliver(*, message_id: int, now: datetime | None = None) -> Message.State | None:
    """Try to send one queued message; return its state afterwards, or None when another process has it.

    A refusal that may pass (no connection, a 4xx answer) puts it back with a doubled wait; one that won't
    (a 5xx answer, no tries left) marks it failed. Needs the organisation's scope; not for a transaction.
    """
    now = now or timezone.now()
    claimed = (
        Message.objects.due(now).filter(pk=message_id).update(state=Message.State.IN_FLIGHT, claimed_at=now)
    )
    if not claimed:
        return None
    message = Message.objects.get(pk=message_id)
    message.attempts += 1
    try:
        _mail(message).send()
    except (smtplib.SMTPException, OSError) as error:
        message.error = f"{type(error).__name__}: {error}"
        if _is_final(error) or message.attempts >= MOST_ATTEMPTS:
            message.state = Message.State.FAILED
        else:
            message.state = Message.State.QUEUED
            message.next_try_at = now + FIRST_WAIT * 2 ** (message.attempts - 1)
        log.warning("message %s was not sent: %s", message.pk, message.error)
    else:
        message.state = Message.State.SENT
        message.sent_at = timezone.now()
        message.error = ""
    message.save(update_fields=["state", "attempts", "error", "next_try_at", "sent_at"])
    return Message.State(message.state)


def sweep(*, now: datetime | None = None) -> int:
    """Over all organisations: hand every due message to the queue, call what is stuck in flight interrupted.

    Returns how many were handed over.
    """
    from notifications.tasks import deliver_message

    now = now or timezone.now()
    with scopes_disabled():  # the outbox is one for the whole installation
        Message.objects.filter(state=Message.State.IN_FLIGHT, claimed_at__lt=now - IN_FLIGHT_AT_MOST).update(
            state=Message.State.INTERRUPTED,
            error="Sending stopped before the mail server's answer was noted; it may have gone out.",
        )
        waiting = list(Message.objects.due(now).values_list("organisation_id", "pk"))
    for organisation_id, message_id in waiting:
        publish_on_commit(deliver_message, organisation_id=organisation_id, message_id=message_id)
    return len(waiting)


def send_again(*, message: Message, now: datetime | None = None) -> None:
    """Queue a failed or interrupted message once more, because a person asks for it.

    Raises WrongState for a message that is waiting or was sent.
    """
    from notifications.tasks import deliver_message

    again = Message.objects.filter(pk=message.pk, state__in=[Message.State.FAILED, Message.State.INTERRUPTED])
    if not again.update(state=Message.State.QUEUED, attempts=0, next_try_at=now or timezone.now()):
        raise WrongState("Only a failed or interrupted message can be sent again.")
    publish_on_commit(deliver_message, organisation_id=message.organisation_id, message_id=message.pk)


def _mail(message: Message) -> EmailMessage:
    from notifications import links  # which posts by this module

    host = settings.SITE_URL.partition("://")[2].partition(":")[0] or "localhost"
    return EmailMessage(
        subject=message.subject,
        body=links.body(message),
        to=[message.address],
        headers={
            "Message-ID": f"<message-{message.pk}-{message.attempts}@{host}>",
            "Auto-Submitted": "auto-generated",
        },
    )


def _is_final(error: Exception) -> bool:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in error.recipients.values())
    return isinstance(error, smtplib.SMTPResponseException) and error.smtp_code >= 500
