"""The outbox: a message is stored first, sent after commit, retried with back-off, and never sent twice.

A message is claimed by a conditional update that commits before the mail server is asked. It is tried again
only where the server certainly did not take it. Where the server had all of it and gave no answer, it is
interrupted at once; a process that dies between asking and noting the answer leaves it in flight, and the
sweep then calls it interrupted. Nobody can know whether such a message arrived, so nothing but a person
sends it again.
"""

import logging
from datetime import datetime, timedelta
from typing import Any, cast

from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled

from fleet.core.errors import WrongState
from fleet.core.queue import publish_on_commit
from fleet.models import Member, Newcomer
from notifications.mail import write_mail
from notifications.models import Message
from notifications.refusals import (
    Misconfigured,
    NotHandedOver,
    Refused,
    ServerAway,
    Unanswered,
    Unreachable,
)
from notifications.smtp import hand_over

log = logging.getLogger(__name__)

MOST_ATTEMPTS = 8
FIRST_WAIT = timedelta(minutes=2)
LONGEST_WAIT = timedelta(hours=4)
SETTINGS_WAIT = timedelta(minutes=15)
WAITED_FOR_SERVER = timedelta(days=4)
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

    link: a one-time link is put in when it is sent (`notifications.one_time_links`).
    """
    now = now or timezone.now()
    person = cast("Member | Newcomer", member or newcomer)
    message = Message.objects.create(
        organisation=person.organisation,
        member=member,
        newcomer=newcomer,
        address=person.user.email if isinstance(person, Member) else person.email,
        subject=subject[:200],
        body=body,
        link=link,
        made_at=now,
        next_try_at=now,
    )
    _queue(message.organisation_id, message.pk)
    return message


def deliver(*, message_id: int, now: datetime | None = None) -> Message.State | None:
    """Try to send one queued message; return its state afterwards, or None when another process has it.

    What was certainly not taken waits for another try, each time twice as long; what is refused, or has no
    tries left, has failed; what may have arrived is interrupted. Needs the organisation's scope; not for a
    transaction.
    """
    now = now or timezone.now()
    claimed = Message.objects.due(now).filter(pk=message_id)
    if not claimed.update(state=Message.State.IN_FLIGHT, claimed_at=now, attempts=F("attempts") + 1):
        return None
    message = Message.objects.get(pk=message_id)
    try:
        hand_over(write_mail(message))
    except NotHandedOver as problem:
        return _note(message, **_what_follows(message, problem, now))
    return _note(message, state=Message.State.SENT, sent_at=timezone.now(), error="")


def _what_follows(message: Message, problem: NotHandedOver, now: datetime) -> dict[str, Any]:
    """Return what a problem makes of the message it met, and put off others that would meet it too."""
    log.log(
        logging.ERROR if isinstance(problem, Misconfigured) else logging.WARNING,
        "message %s was not sent: %s",
        message.pk,
        problem.sentence,
    )
    if isinstance(problem, Unanswered):
        doubt = _("{sentence} It may have arrived.").format(sentence=problem.sentence)
        return {"state": Message.State.INTERRUPTED, "error": doubt}
    if isinstance(problem, Refused) or _has_given_up(message, problem, now):
        return {"state": Message.State.FAILED, "error": problem.sentence}
    again: dict[str, Any] = {"state": Message.State.QUEUED, "error": problem.sentence}
    if isinstance(problem, Misconfigured):
        again |= {"next_try_at": now + SETTINGS_WAIT, "attempts": message.attempts - 1}
    else:
        doubled = FIRST_WAIT * 2 ** min(message.attempts - 1, MOST_ATTEMPTS)
        again["next_try_at"] = now + min(doubled, LONGEST_WAIT)
    if isinstance(problem, Misconfigured | Unreachable):
        _put_off_others(message, now, problem.sentence)
    return again


def _has_given_up(message: Message, problem: NotHandedOver, now: datetime) -> bool:
    """Whether a message that may be tried again has been tried enough.

    A server that is away is waited for as long as mail servers wait for each other (RFC 5321, 4.5.4.1).
    """
    if isinstance(problem, Misconfigured) or message.attempts < MOST_ATTEMPTS:
        return False
    return not isinstance(problem, ServerAway) or now - message.made_at >= WAITED_FOR_SERVER


def _put_off_others(message: Message, now: datetime, sentence: str) -> None:
    """Spare every other due message a try that would end the same, and the worker the time for it."""
    with scopes_disabled():  # there is one mail server for the whole installation
        Message.objects.due(now).exclude(pk=message.pk).update(next_try_at=now + FIRST_WAIT, error=sentence)


def _note(message: Message, **outcome: Any) -> Message.State:
    """Write down what became of a try, unless a person has asked for another since."""
    still_ours = Message.objects.filter(
        pk=message.pk,
        claimed_at=message.claimed_at,
        state__in=[Message.State.IN_FLIGHT, Message.State.INTERRUPTED],
    )
    still_ours.update(**outcome)
    return Message.State(Message.objects.values_list("state", flat=True).get(pk=message.pk))


def sweep(*, now: datetime | None = None) -> int:
    """Over all organisations: hand every due message to the queue, call what is stuck in flight interrupted.

    Returns how many were handed over.
    """
    now = now or timezone.now()
    with scopes_disabled():  # the outbox is one for the whole installation
        Message.objects.filter(state=Message.State.IN_FLIGHT, claimed_at__lt=now - IN_FLIGHT_AT_MOST).update(
            state=Message.State.INTERRUPTED,
            error=_("Sending stopped before the mail server's answer was noted. It may have arrived."),
        )
        waiting = list(Message.objects.due(now).values_list("organisation_id", "pk"))
    for organisation_id, message_id in waiting:
        _queue(organisation_id, message_id)
    return len(waiting)


def send_again(*, message: Message, now: datetime | None = None) -> None:
    """Queue a failed or interrupted message once more, because a person asks for it.

    It goes to the address the member has now, under the Message-ID it had before. Raises
    WrongState for a message that is waiting or was sent.
    """
    again = Message.objects.undecided().filter(pk=message.pk)
    if not again.update(
        state=Message.State.QUEUED,
        attempts=0,
        next_try_at=now or timezone.now(),
        address=message.mailbox,
        error="",
    ):
        raise WrongState(_("Only a failed or interrupted message can be sent again."))
    _queue(message.organisation_id, message.pk)


def mark_arrived(*, message: Message, member: Member) -> None:
    """Call an interrupted message sent, because a person has asked whoever it went to.

    Raises WrongState for a message of which that is not in doubt.
    """
    in_doubt = Message.objects.filter(pk=message.pk, state=Message.State.INTERRUPTED)
    note = _("{person} noted that it arrived.").format(person=member)
    if not in_doubt.update(state=Message.State.SENT, sent_at=F("claimed_at"), error=note):
        raise WrongState(_("Only an interrupted message can be noted as arrived."))


def _queue(organisation_id: int, message_id: int) -> None:
    publish_on_commit(
        "notifications.tasks.deliver_message", organisation_id=organisation_id, message_id=message_id
    )
