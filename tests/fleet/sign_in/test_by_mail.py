"""Signing in by mail address: as good as by name, and counted as one with it."""

import pytest
from axes.models import AccessFailureLog
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.sign_in.names import account_name, key_of
from tests.factories import UserFactory
from tests.factories.fleet import PASSWORD

pytestmark = [pytest.mark.security, pytest.mark.django_db]
MAIL = "orla@example.org"


@pytest.fixture
def orla():
    return UserFactory(username="orla", email=MAIL)


@pytest.mark.parametrize("typed", [MAIL, "ORLA@Example.ORG", f" {MAIL} ", "orla", "Orla"])
def test_a_name_or_a_mail_address_opens_however_it_is_capitalised(orla, enter, typed):
    assert enter(name=typed, password=PASSWORD).status_code == 302


def test_the_page_asks_for_either(client):
    page = client.get("/sign-in/").content.decode()
    assert "Name or mail address" in page


def test_the_operators_page_asks_for_either_and_takes_either(client, enter):
    operator = UserFactory(username="operator", email=MAIL, is_staff=True, is_superuser=True)
    assert "Name or mail address" in client.get("/admin/login/").content.decode()
    assert enter(name=MAIL, password=PASSWORD, page="/admin/login/").status_code == 302
    answer = enter(name=operator.username, password="wrong", page="/admin/login/")
    assert "Only operators sign in here." in answer.content.decode()


def test_an_address_of_two_accounts_opens_neither(orla, enter):
    UserFactory(username="other", email=MAIL.upper())
    answer = enter(name=MAIL, password=PASSWORD)
    assert answer.status_code == 200
    assert "That name and password don&#x27;t match." in answer.content.decode()
    assert enter(name="orla", password=PASSWORD).status_code == 302


def test_a_second_account_that_is_switched_off_is_in_nobodys_way(orla, enter):
    UserFactory(username="other", email=MAIL, is_active=False)
    assert enter(name=MAIL, password=PASSWORD).status_code == 302


def test_an_account_that_is_switched_off_does_not_open(orla, enter):
    orla.is_active = False
    orla.save()
    assert enter(name=MAIL, password=PASSWORD).status_code == 200
    assert enter(name="orla", password=PASSWORD).status_code == 200


def test_a_name_goes_before_an_address(orla, enter):
    named = UserFactory(username=MAIL, email="elsewhere@example.org")
    assert account_name(MAIL.upper()) == named.username
    named.is_active = False
    named.save()
    assert enter(name=MAIL, password=PASSWORD).status_code == 200


def test_guesses_by_name_and_by_address_count_as_one(orla, enter):
    typed = ["orla", MAIL, "ORLA", MAIL.upper(), "orla"]
    assert [enter(name=name).status_code for name in typed] == [200, 200, 200, 200, 429]
    assert enter(name=MAIL, password=PASSWORD).status_code == 429
    assert set(AccessFailureLog.objects.values_list("username", flat=True)) == {key_of("orla")}


def test_a_name_an_address_and_neither_take_the_same_work(orla, enter, hashes):
    asked = []
    for name in ("orla", MAIL, "nobody", "nobody@example.org"):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert enter(name=name, address=f"192.0.2.{len(asked) + 1}").status_code == 200
        asked.append(len(queries))
    assert len(set(asked)) == 1
    assert len(hashes) == 4


@pytest.mark.parametrize("typed", ["", " ", "\0", "x" * 10_000, "orla\0"])
def test_odd_names_are_looked_up_without_harm(orla, typed):
    assert account_name(typed) == ("orla" if typed == "orla\0" else None)
