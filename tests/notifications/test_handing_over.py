"""Mail and servers that break off, hang, refuse or talk nonsense: each row honest, and no mail twice."""

import random
from collections import Counter
from datetime import timedelta
from email import message_from_string

import pytest

from notifications import outbox
from notifications.mail import write_mail
from notifications.models import Message
from notifications.refusals import Refused
from tests.notifications.bad_server import AFTER_THE_DOT, BEFORE_THE_DOT, DURING, TAKEN, BadServer
from tests.notifications.sending import NOW, PATIENCE, deliver, post, subjects

pytestmark = pytest.mark.security


@pytest.mark.parametrize("stage", BEFORE_THE_DOT)
def test_what_broke_before_the_end_was_sent_is_tried_again(in_farm, over_smtp, stage):
    with BadServer(lambda number: stage if number == 0 else "good") as server:
        over_smtp(server.port, patience=0.5 if "hangs" in stage else PATIENCE)
        message = deliver(post(in_farm))
        assert (message.state, message.attempts) == ("queued", 1)
        assert message.next_try_at == NOW + outbox.FIRST_WAIT
        assert "mail server broke off" in message.error
        assert server.kept == []
        over_smtp(server.port)
        assert deliver(message, message.next_try_at).state == "sent"
        assert message.error == ""
        assert len(server.kept) == 1


@pytest.mark.parametrize("stage", AFTER_THE_DOT)
def test_what_may_have_arrived_is_interrupted_at_once_and_only_a_person_sends_it_again(
    in_farm, over_smtp, stage
):
    with BadServer(lambda number: stage if number == 0 else "good") as server:
        over_smtp(server.port, patience=0.5 if "hangs" in stage else PATIENCE)
        message = deliver(post(in_farm))
        assert (message.state, message.attempts) == ("interrupted", 1)
        assert "It may have arrived." in message.error
        before = len(server.kept)
        for days in range(10):
            assert outbox.sweep(now=NOW + timedelta(days=days)) == 0
            assert outbox.deliver(message_id=message.pk, now=NOW + timedelta(days=days)) is None
        assert len(server.kept) == before
        over_smtp(server.port)
        outbox.send_again(message=message, now=NOW)
        assert deliver(message).state == "sent"
        assert {message_from_string(each)["Message-ID"] for each in server.kept} == {f"<{message.mail_id}>"}


@pytest.mark.parametrize("stage", TAKEN)
def test_what_was_taken_is_sent_however_the_parting_goes(in_farm, over_smtp, monkeypatch, stage):
    monkeypatch.setattr("notifications.smtp.WAITING_TO_PART", 0.2)
    with BadServer(lambda number: stage) as server:
        over_smtp(server.port)
        message = deliver(post(in_farm))
        assert (message.state, message.attempts, message.error) == ("sent", 1, "")
        assert len(server.kept) == 1
        assert server.kept[0].replace("\r\n", "\n").endswith("Ängel: öl\n.\n..\nend\n")


def test_two_hundred_mails_to_a_bad_server_and_none_twice(in_farm, over_smtp):
    chance = random.Random(20261128)
    stages = [each for each in (*BEFORE_THE_DOT, DURING, *AFTER_THE_DOT, *TAKEN) if "hangs" not in each]
    with BadServer(lambda number: chance.choice(stages)) as server:
        over_smtp(server.port)
        messages = [post(in_farm, f"duties {number}") for number in range(200)]
        moment = NOW
        for _ in range(outbox.MOST_ATTEMPTS + 2):
            outbox.sweep(now=moment)
            for message in messages:
                outbox.deliver(message_id=message.pk, now=moment)
            moment += outbox.LONGEST_WAIT
        arrived = subjects(server)
        assert max(arrived.values()) == 1
        states = Counter()
        for message in messages:
            message.refresh_from_db()
            states[message.state] += 1
            if message.state == "sent":
                assert arrived[message.subject] == 1
            else:
                assert message.state in ("interrupted", "failed")
                assert message.error
            if message.state == "failed":
                assert arrived[message.subject] == 0
        assert states["sent"] > 50
        assert states["interrupted"] > 50


def test_every_try_of_a_mail_is_the_same_mail(in_farm, over_smtp, settings):
    with BadServer(dot="451 not now") as server:
        over_smtp(server.port)
        message, other = post(in_farm), post(in_farm)
        deliver(message)
        settings.SITE_URL = "https://moved.example"
        deliver(message, message.next_try_at)
        first, second = server.kept
        assert first == second
        assert message_from_string(first)["Message-ID"] == f"<{message.mail_id}>"
        assert message_from_string(first)["Date"] == "Mon, 02 Mar 2026 06:00:00 +0000"
        assert message.mail_id != other.mail_id


def test_a_refusal_after_the_end_is_a_refusal(in_farm, over_smtp):
    with BadServer(dot="451 full for the moment") as server:
        over_smtp(server.port)
        assert deliver(post(in_farm)).state == "queued"
    with BadServer(dot="554 looks like spam") as server:
        over_smtp(server.port)
        message = deliver(post(in_farm))
        assert message.state == "failed"
        assert "554 looks like spam" in message.error


@pytest.mark.parametrize(
    ("answers", "state", "attempts"),
    [
        ({"RCPT": "450 greylisted, come back"}, "queued", 1),
        ({"MAIL": "451 busy"}, "queued", 1),
        ({"DATA": "451 busy"}, "queued", 1),
        ({"DATA": "250 what now"}, "queued", 1),
        ({"RCPT": "250-first\r\n250 both lines"}, "sent", 1),
        ({"RCPT": "nonsense"}, "queued", 1),
        ({"RCPT": "2" * 9000}, "queued", 1),
        ({"RCPT": "550 nobody here"}, "failed", 1),
        ({"DATA": "554 no"}, "failed", 1),
        ({"MAIL": "552 larger than I take"}, "failed", 1),
        ({"MAIL": "550 I know no such sender"}, "queued", 0),
        ({"RCPT": "530 sign in first"}, "queued", 0),
        ({"greeting": "554 not you"}, "queued", 0),
        ({"greeting": "421 too busy"}, "queued", 1),
    ],
)
def test_each_answer_is_taken_at_its_word(in_farm, over_smtp, answers, state, attempts):
    with BadServer(**answers) as server:
        over_smtp(server.port)
        message = deliver(post(in_farm))
        assert (message.state, message.attempts) == (state, attempts)
        assert len(server.kept) == (state == "sent")
        if state != "sent":
            assert "mail server" in message.error


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"subject": "Alder\r\nBcc: all@example.org"}, "line break"),
        ({"subject": "Alder\nFarm"}, "line break"),
        ({"address": "mara@example.org\r\nRCPT TO:<all@example.org>"}, "is not a mail address"),
        ({"address": "mara\x07@example.org"}, "is not a mail address"),
        ({"address": "mara@example.org, all@example.org"}, "is not a mail address"),
        ({"address": "mara"}, "is not a mail address"),
        ({"address": ""}, "There is no mail address"),
        ({"address": f"{'m' * 65}@example.org"}, "too long"),
        ({"address": "mära@example.org"}, "Enter another for this person"),
        ({"address": "mära@example.org", "subject": "both\nwrong"}, "line break"),
    ],
)
def test_a_mail_that_cannot_be_sent_fails_alone(in_farm, over_smtp, changed, said):
    with BadServer() as server:
        over_smtp(server.port)
        before, bad, after = post(in_farm, "before"), post(in_farm, **changed), post(in_farm, "after")
        states = [deliver(message).state for message in (before, bad, after)]
        assert states == ["sent", "failed", "sent"]
        assert said in bad.error
        assert subjects(server) == {"before": 1, "after": 1}
        assert not [each for each in server.commands if "all@" in each]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"subject": "Alder\x00"}, "another character"),
        ({"address": f"mara@{'.'.join(['d' * 60] * 5)}"}, "too long"),
        ({"body": "half of a sign: \ud83d"}, "can't be written as a mail"),
        ({"subject": "half of a sign: \ud83d", "address": "mära@example.org"}, "can't be written as a mail"),
    ],
)
def test_what_not_every_database_would_keep_cannot_be_written_either(changed, said):
    facts = {"address": "mara@example.org", "subject": "Two duties", "body": "Oil", "made_at": NOW}
    with pytest.raises(Refused, match=said):
        write_mail(Message(**facts | changed))


DOMAIN = f"{'.'.join(['d' * 60] * 3)}."


@pytest.mark.parametrize(("local", "last"), [(64, 6), (65, 5), (64, 7)])
def test_an_address_is_as_long_as_mail_lets_it_be(local, last):
    """RFC 5321, 4.5.3.1: 64 octets before the @, 256 in all with the angle brackets around it."""
    address = f"{'m' * local}@{DOMAIN}{'d' * last}"
    message = Message(address=address, subject="Two duties", body="Oil", made_at=NOW)
    if local <= 64 and len(f"<{address}>") <= 256:
        assert write_mail(message).to == [address]
    else:
        with pytest.raises(Refused, match="too long"):
            write_mail(message)


def test_what_was_cut_as_the_content_went_out_is_never_called_sent(in_farm, over_smtp):
    with BadServer(lambda number: DURING) as server:
        over_smtp(server.port)
        message = deliver(post(in_farm))
        assert message.state in ("queued", "interrupted")
        assert message.error
        assert server.kept == []


def test_an_answer_that_comes_late_counts_unless_a_person_was_quicker(in_farm, over_smtp, monkeypatch):
    """The sweep takes a slow server for a dead worker; then the answer comes after all."""
    moment = NOW + outbox.IN_FLIGHT_AT_MOST + timedelta(seconds=1)
    late, again = post(in_farm, "late"), post(in_farm, "again")
    hand_over = outbox.hand_over

    def slowly(mail):
        hand_over(mail)
        outbox.sweep(now=moment)
        if mail.subject == "again":
            outbox.send_again(message=again, now=moment)

    monkeypatch.setattr(outbox, "hand_over", slowly)
    with BadServer() as server:
        over_smtp(server.port)
        assert deliver(late).state == "sent"
        assert deliver(again).state == "queued"  # as the person asked
        assert subjects(server) == {"late": 1, "again": 1}


def test_send_again_goes_to_the_address_the_person_has_now(in_farm, over_smtp):
    with BadServer(lambda number: "good") as server:
        over_smtp(server.port)
        message = deliver(post(in_farm, address="mara"))
        assert message.state == "failed"
        in_farm.manager.user.email = "mara@new.example.org"
        in_farm.manager.user.save()
        outbox.send_again(message=message, now=NOW)
        assert deliver(message).state == "sent"
        assert "rcpt TO:<mara@new.example.org>" in server.commands
