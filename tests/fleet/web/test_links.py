"""One-time links: by mail to the person they are for, good once, in no answer, no log and no table."""

import logging
from datetime import datetime, timedelta
from unittest import mock

import pytest
import time_machine
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.core import mail, signing
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django_scopes import scope, scopes_disabled

from fleet.accounts import invitations, members
from fleet.core.errors import Stale
from fleet.models import Member, Newcomer, User
from tests.cast import signs_in
from tests.factories import MemberFactory
from tests.factories.fleet import PASSWORD as OLD
from tests.fleet.web.letters import letters, link_in
from tests.fleet.web.test_people import add, change, everything_stored

PASSWORD = "three-odd-words"
BOTH = {"password": PASSWORD, "again": PASSWORD}


def forgotten(house, person, by="owner"):
    return house.client(by).post(reverse("person-link", args=[person.pk]), follow=True)


def follow(client, link):
    """Open a link; return the page it leads to."""
    answer = client.get(link)
    return client.get(answer["Location"]) if answer.status_code == 302 else answer


def enter(link, **entered):
    client = Client()
    page = follow(client, link)
    return client, client.post(page.request["PATH_INFO"], entered or BOTH)


def test_a_newcomer_chooses_a_password_and_is_in(farm):
    answer = add(farm)
    assert answer["Location"] == reverse("people")
    link = link_in()
    assert mail.outbox[-1].to == ["ada@example.org"]
    assert f"{farm.owner} has invited you to Alder Farm as technician." in mail.outbox[-1].body
    assert "Welcome to Alder Farm" in follow(Client(), link).content.decode()
    client, entered = enter(link)
    assert entered["Location"] == reverse("today")
    member = client.get("/account/").context["member"]
    assert (str(member), member.role) == ("Ada Marsh", "technician")
    assert signs_in("ada@example.org", PASSWORD)


def test_nobody_is_in_before_they_follow_the_link(farm):
    add(farm)
    page = farm.client("owner").get("/people/").content.decode()
    assert "Invited, not joined yet" in page
    assert "ada@example.org" in page
    with farm.scope():
        assert Member.objects.count() == 4
    assert not User.objects.filter(username="ada@example.org").exists()


@pytest.mark.security
def test_adding_tells_nothing_about_other_organisations(farm, stranger):
    """A known address and one that nobody has: the same answer, page, list and work."""
    told = []
    known = stranger.manager.user.email
    with time_machine.travel("2026-05-04T10:00Z", tick=False):
        for email in ("nobody.yet@example.org", known):
            client = farm.client("owner")
            with CaptureQueriesContext(connection) as asked:
                answer = client.post("/people/new/", {"name": "Ada", "email": email, "role": "manager"})
                work = [query["sql"].partition(" ")[0] for query in asked]
            page = client.get("/people/").content.decode()
            with farm.scope():
                newcomer = Newcomer.objects.get()
                seen = page.replace(email, "ADDRESS").replace(f"awaited/{newcomer.pk}/", "")
                told.append((answer.status_code, answer["Location"], _without_tokens(seen), work))
                letters()[-1].delete()
                newcomer.delete()
    assert told[0] == told[1]
    assert "INSERT" in told[0][3]


def _without_tokens(page):
    return [line for line in page.splitlines() if "csrfmiddlewaretoken" not in line]


@pytest.mark.security
def test_who_signs_in_elsewhere_comes_in_by_their_own_password(farm, stranger):
    user = stranger.technician.user
    add(farm, email=user.email, role="counter", name="Somebody")
    link = link_in()
    assert f"You have an account here already: {user.username}" in follow(Client(), link).content.decode()
    _, refused = enter(link, password="not-the-password")
    assert refused.context["form"].errors.keys() == {"password"}
    _, refused = enter(link)  # a password chosen by whoever has the link is not taken
    assert refused.status_code == 422
    assert signs_in(user.username, OLD)
    client, entered = enter(link, password=OLD)
    assert entered["Location"] == reverse("today")
    member = client.get("/account/").context["member"]
    assert (member.organisation, member.role, member.user) == (farm.organisation, "counter", user)
    with stranger.scope():
        assert Member.objects.get(user=user).role == "technician"


@pytest.mark.security
def test_a_link_lets_in_nobody_else(farm, stranger):
    add(farm, email=stranger.technician.user.email)
    with farm.scope():
        secret = invitations.secret_of(Newcomer.objects.get())
    with pytest.raises(Stale):
        invitations.come_in(secret=secret, user=stranger.manager.user)
    with farm.scope():
        assert Member.objects.count() == 4


def test_a_link_works_once(farm):
    for ask in (lambda: add(farm), lambda: forgotten(farm, farm.technician)):
        ask()
        link = link_in()
        enter(link)
        assert follow(Client(), link).status_code == 410


def test_a_link_that_an_earlier_version_mailed_still_opens(farm):
    """A link is signed under a name; the name a module had when this one went out was another."""
    add(farm)
    with scopes_disabled():
        asked = Newcomer.objects.get()
    secret = signing.dumps([asked.pk, asked.asked_at.isoformat()], salt="fleet.newcomers")
    assert "Welcome to Alder Farm" in follow(Client(), reverse("join", args=[secret])).content.decode()


def test_two_who_hold_a_link_at_once_come_in_once(farm):
    """Both have the form open; the second finds that the link has ended."""
    for ask in (lambda: add(farm), lambda: forgotten(farm, farm.technician)):
        ask()
        link = link_in()
        first, second = Client(), Client()
        pages = [follow(client, link) for client in (first, second)]
        assert first.post(pages[0].request["PATH_INFO"], BOTH).status_code == 302
        late = {"password": "another-long-one", "again": "another-long-one"}
        assert second.post(pages[1].request["PATH_INFO"], late).status_code == 410


def test_the_links_end_after_three_days(farm, settings):
    assert settings.PASSWORD_RESET_TIMEOUT == 3 * 24 * 3600
    forgotten(farm, farm.technician)
    link = link_in()
    for after, status in [(-60, 302), (60, 410)]:
        moment = datetime.now() + timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT + after)  # noqa: DTZ005
        with mock.patch.object(PasswordResetTokenGenerator, "_now", return_value=moment):
            assert Client().get(link).status_code == status
    with time_machine.travel("2026-05-04T10:00Z", tick=False) as clock:
        add(farm)
        link = link_in()
        for after, status in [(3 * 24 * 3600 - 60, 302), (120, 410)]:
            clock.shift(after)
            assert Client().get(link).status_code == status


def test_looking_does_not_use_it_up(farm):
    add(farm)
    link = link_in()
    assert [follow(Client(), link).status_code for _ in range(3)] == [200] * 3


def test_another_mail_makes_the_link_before_void_and_not_at_once(farm):
    with time_machine.travel("2026-05-04T10:00Z", tick=False) as clock:
        add(farm)
        first = link_in()
        with farm.scope():
            again = reverse("newcomer-again", args=[Newcomer.objects.get().pk])
        early = farm.client("owner").post(again, follow=True)
        assert "Wait a minute" in early.content.decode()
        clock.shift(59)
        early = farm.client("owner").post(again, follow=True)
        assert "Wait a minute" in early.content.decode()
        clock.shift(1)
        assert "will get another mail" in farm.client("owner").post(again, follow=True).content.decode()
        assert follow(Client(), link_in()).status_code == 200
        assert follow(Client(), first).status_code == 410


def test_who_was_withdrawn_does_not_come_in(farm):
    add(farm)
    link = link_in()
    with farm.scope():
        newcomer = Newcomer.objects.get()
    farm.client("owner").post(reverse("newcomer-withdraw", args=[newcomer.pk]))
    assert follow(Client(), link).status_code == 410
    late = farm.client("owner").post(reverse("newcomer-again", args=[newcomer.pk]), follow=True)
    assert "was withdrawn" in late.content.decode()
    assert add(farm).status_code == 302  # and may be asked again


def test_an_address_asked_twice_is_told(farm):
    add(farm)
    answer = add(farm, email="ADA@example.org")
    assert "has been invited already" in answer.content.decode()
    assert len(letters()) == 1


@pytest.mark.security
def test_an_owner_sets_nobodys_password(farm):
    """Not another owner's, not by taking their role first: the link goes to the person's own mailbox."""
    other = MemberFactory(organisation=farm.organisation, role="owner")
    change(farm, other, role="manager")
    answer = forgotten(farm, other)
    assert f"{other} will get a mail" in answer.content.decode()
    assert "/welcome/" not in answer.content.decode()
    (message,) = letters()
    assert message.address == other.user.email
    shown = farm.client("owner").get(reverse("message", args=[message.pk])).content.decode()
    assert "It is kept nowhere else" in shown
    assert "/welcome/" not in shown
    enter(link_in(message))
    assert signs_in(other.user.username, PASSWORD)


@pytest.mark.security
def test_a_forgotten_password_tells_nothing_of_other_organisations(farm, stranger):
    MemberFactory(organisation=stranger.organisation, user=farm.technician.user, role="owner")
    told = [forgotten(farm, person).content.decode() for person in (farm.technician, farm.counter)]
    for page, person in zip(told, (farm.technician, farm.counter), strict=True):
        assert f"{person} will get a mail with a link" in page
    assert [message.address for message in letters()] == [
        farm.technician.user.email,
        farm.counter.user.email,
    ]


@pytest.mark.security
def test_a_secret_is_kept_nowhere_but_with_who_follows_it(farm, caplog):
    caplog.set_level(logging.DEBUG)
    add(farm)
    forgotten(farm, farm.technician)
    links = [link_in(message) for message in letters()]
    secrets = [link.rstrip("/").rsplit("/", 1)[1] for link in links]
    stored = everything_stored()
    for secret in secrets:
        assert secret not in stored
        assert secret not in caplog.text
    for link in links:
        answer = Client().get(link)
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "no-store" in answer["Cache-Control"]
        assert answer["Location"] in {"/welcome/", "/join/"}  # nothing of the link stays in the address


@pytest.mark.parametrize("uid", ["MQ", "x", "LTE", "OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5", "_w"])
def test_a_wrong_link_has_ended(db, uid):
    assert Client().get(f"/welcome/{uid}/abc-def/").status_code == 410


@pytest.mark.parametrize("link", ["/welcome/", "/join/", "/join/abc/", "/join/WzEsMV0:1x:abc/"])
def test_nothing_opens_without_one(db, link):
    assert Client().get(link).status_code == 410
    assert Client().post(link, BOTH).status_code == 410


def test_weak_or_differing_passwords_are_refused(farm):
    add(farm)
    link = link_in()
    _, short = enter(link, password="short", again="short")
    assert short.context["form"].errors.keys() == {"password"}
    _, like = enter(link, password="ada@example.org", again="ada@example.org")
    assert like.context["form"].errors.keys() == {"password"}
    _, differ = enter(link, password=PASSWORD, again=PASSWORD + "x")
    assert differ.context["form"].errors.keys() == {"again"}
    assert PASSWORD not in differ.content.decode()


def test_the_operators_link_from_the_terminal_works(farm):
    with scopes_disabled():
        invitation = members.invite(user=farm.technician.user)
    enter(reverse("welcome", args=[invitation.uid, invitation.secret]))
    assert signs_in(farm.technician.user.username, PASSWORD)


def test_who_has_no_address_gets_no_link(farm):
    User.objects.filter(pk=farm.technician.user_id).update(email="")
    assert "has no mail address" in forgotten(farm, farm.technician).content.decode()
    assert letters() == []


def test_a_strangers_person_gets_no_link(farm, stranger):
    with scope(organisation=stranger.organisation):
        pk = stranger.technician.pk
    assert farm.client("owner").post(reverse("person-link", args=[pk])).status_code == 404
