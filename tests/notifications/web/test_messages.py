"""The page of messages: what waits for a person, and what that person can do about it."""

import pytest
from django.urls import reverse

from notifications.models import Message
from tests.notifications.sending import NOW


@pytest.fixture
def message(farm):
    with farm.scope():
        return Message.objects.create(
            organisation=farm.organisation,
            member=farm.manager,
            address="mara@example.org",
            subject="Two duties",
            body="Oil and filter",
            state=Message.State.INTERRUPTED,
            attempts=1,
            claimed_at=NOW,
            made_at=NOW,
            error="The connection broke. It may have arrived.",
        )


def again(farm, message):
    with farm.scope():
        message.refresh_from_db()
    return message


def page(client, *names, **keys):
    return client.get(reverse(*names, kwargs=keys or None)).content.decode()


@pytest.mark.parametrize("shown", [("messages", False), ("message", True)])
def test_an_interrupted_message_says_what_to_do(farm, message, shown):
    name, keyed = shown
    said = page(farm.client("owner"), name, **({"pk": message.pk} if keyed else {}))
    assert "It may have arrived." in said
    assert f"Ask {message.member} whether it arrived. If it did, record that; if not, send it again." in said


def test_who_may_not_send_again_is_not_asked_to(farm, message):
    client = farm.client("manager")
    for said in (page(client, "messages"), page(client, "message", pk=message.pk)):
        assert "Two duties" in said
        assert "It may have arrived." in said
        assert "send it again" not in said.lower()
    for name in ("message-again", "message-arrived"):
        assert client.post(reverse(name, args=[message.pk])).status_code == 403
    assert again(farm, message).state == "interrupted"


def test_it_is_sent_again_once_however_often_that_is_pressed(farm, message):
    client = farm.client("owner")
    said = [client.post(reverse("message-again", args=[message.pk]), follow=True) for _ in range(2)]
    assert "It will be sent again." in said[0].content.decode()
    assert "Only a failed or interrupted message can be sent again." in said[1].content.decode()
    assert (again(farm, message).state, message.attempts) == ("queued", 0)


def test_it_is_noted_as_arrived(farm, message):
    client = farm.client("owner")
    said = client.post(reverse("message-arrived", args=[message.pk]), follow=True).content.decode()
    assert "Noted: it arrived." in said
    assert (again(farm, message).state, message.sent_at) == ("sent", NOW)
    assert message.error == f"{farm.owner} noted that it arrived."
    said = client.post(reverse("message-arrived", args=[message.pk]), follow=True).content.decode()
    assert "Only an interrupted message can be noted as arrived." in said
    assert "Ask " not in page(client, "messages")


def test_a_failed_message_is_put_right_first(farm, message):
    with farm.scope():
        Message.objects.update(state=Message.State.FAILED, error="There is no mail address to send it to.")
    said = page(farm.client("owner"), "messages")
    assert "There is no mail address to send it to." in said
    assert "Correct what is wrong, then send it again." in said
    assert "It arrived" not in page(farm.client("owner"), "message", pk=message.pk)


def test_the_rest_of_a_long_message_is_folded_and_all_there(farm, message):
    lines = [f"- Machine {number}: change engine oil and filter" for number in range(100)]
    with farm.scope():
        Message.objects.filter(pk=message.pk).update(body="\n".join(lines))
    said = page(farm.client("owner"), "message", pk=message.pk)
    seen, folded = said.split('<details class="more"><summary>The rest of it')
    assert all((line in seen) != (line in folded) for line in lines)
    assert lines[0] in seen
    assert lines[-1] in folded
    with farm.scope():
        Message.objects.filter(pk=message.pk).update(body="\n".join(lines[:10]))
    assert "The rest of it" not in page(farm.client("owner"), "message", pk=message.pk)
