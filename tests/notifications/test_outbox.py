"""The outbox against a real SMTP server on this machine."""

import socket
from datetime import UTC, datetime, timedelta

import pytest
from aiosmtpd.controller import Controller
from django.db import transaction

from fleet.core.errors import WrongState
from notifications import outbox
from notifications.models import Message

NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


class Postbox:
    """An SMTP handler that keeps what it gets and answers RCPT as told."""

    def __init__(self):
        self.kept = []
        self.answer = "250 OK"

    async def handle_RCPT(self, server, session, envelope, address, options):
        if self.answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.answer

    async def handle_DATA(self, server, session, envelope):
        self.kept.append(envelope.content.decode())
        return "250 OK"


@pytest.fixture
def postbox(settings):
    handler = Postbox()
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    server = Controller(handler, hostname="127.0.0.1", port=port)
    server.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
    yield handler
    server.stop()


def post(farm):
    return outbox.post(member=farm.manager, subject="Two duties", body="Ängel: öl", now=NOW)


def test_message_is_sent_once(in_farm, postbox):
    message = post(in_farm)
    assert outbox.deliver(message_id=message.pk, now=NOW) == "sent"
    assert outbox.deliver(message_id=message.pk, now=NOW) is None
    assert len(postbox.kept) == 1
    assert "Subject: Two duties" in postbox.kept[0]
    message.refresh_from_db()
    assert (message.state, message.attempts) == ("sent", 1)


def test_passing_refusal_waits_twice_as_long_each_time(in_farm, postbox):
    message = post(in_farm)
    postbox.answer = "451 try later"
    moment = NOW
    for wait in (2, 4, 8, 16, 32, 64, 128):
        assert outbox.deliver(message_id=message.pk, now=moment) == "queued"
        message.refresh_from_db()
        assert message.next_try_at == moment + timedelta(minutes=wait)
        assert outbox.deliver(message_id=message.pk, now=moment) is None  # not before its time
        moment = message.next_try_at
    postbox.answer = "250 OK"
    assert outbox.deliver(message_id=message.pk, now=moment) == "sent"


def test_tries_end(in_farm, postbox):
    message = post(in_farm)
    postbox.answer = "451 try later"
    moment = NOW
    states = []
    while message.state == "queued":
        states.append(outbox.deliver(message_id=message.pk, now=moment))
        message.refresh_from_db()
        moment = message.next_try_at
    assert states == ["queued"] * 7 + ["failed"]
    assert "451" in message.error


def test_final_refusal_fails_at_once_and_says_why(in_farm, postbox):
    message = post(in_farm)
    postbox.answer = "550 no such person"
    assert outbox.deliver(message_id=message.pk, now=NOW) == "failed"
    message.refresh_from_db()
    assert "no such person" in message.error


def test_mail_server_away_is_tried_for_four_days_at_last_every_four_hours(in_farm, settings):
    """RFC 5321, 4.5.4.1: the give-up time generally needs to be at least 4-5 days."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9  # nobody listens on the discard port
    message = post(in_farm)
    moment, waits = NOW, []
    while outbox.deliver(message_id=message.pk, now=moment) == "queued":
        message.refresh_from_db()
        waits.append((message.next_try_at - moment) / timedelta(minutes=1))
        moment = message.next_try_at
    assert waits[:7] == [2, 4, 8, 16, 32, 64, 128]
    assert set(waits[7:]) == {240}
    assert moment - timedelta(hours=4) < NOW + timedelta(days=4) <= moment


def test_at_four_days_to_the_second_it_has_failed(in_farm, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9
    message = post(in_farm)
    Message.objects.filter(pk=message.pk).update(attempts=20)
    end = NOW + timedelta(days=4)
    assert outbox.deliver(message_id=message.pk, now=end - timedelta(seconds=1)) == "queued"
    Message.objects.filter(pk=message.pk).update(next_try_at=end)
    assert outbox.deliver(message_id=message.pk, now=end) == "failed"


def test_a_try_is_taken_for_dead_after_a_quarter_of_an_hour(in_farm):
    message = post(in_farm)
    Message.objects.filter(pk=message.pk).update(state="in flight", claimed_at=NOW)
    outbox.sweep(now=NOW + timedelta(minutes=15))
    message.refresh_from_db()
    assert message.state == "in flight"
    outbox.sweep(now=NOW + timedelta(minutes=15, seconds=1))
    message.refresh_from_db()
    assert message.state == "interrupted"


def test_interrupted_message_is_not_sent_again_by_itself(in_farm, postbox):
    message = post(in_farm)
    Message.objects.filter(pk=message.pk).update(state="in flight", claimed_at=NOW - timedelta(minutes=16))
    assert outbox.sweep(now=NOW) == 0
    message.refresh_from_db()
    assert message.state == "interrupted"
    assert outbox.deliver(message_id=message.pk, now=NOW) is None
    outbox.send_again(message=message, now=NOW)
    assert outbox.deliver(message_id=message.pk, now=NOW) == "sent"
    with pytest.raises(WrongState):
        outbox.send_again(message=message, now=NOW)


def test_sweep_finds_what_a_dead_broker_left(in_farm, settings, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as publishing:
        post(in_farm)
    assert len(publishing) == 1  # the page's own attempt, lost with the broker
    with django_capture_on_commit_callbacks() as publishing:
        assert outbox.sweep(now=NOW) == 1
    assert len(publishing) == 1


def test_rolled_back_message_was_never_written(in_farm):
    with transaction.atomic():
        post(in_farm)
        transaction.set_rollback(True)
    assert not Message.objects.exists()
