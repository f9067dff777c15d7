"""Owners hear by mail whose sign-ins were stopped: once each lock, one mail a day, whatever strangers do."""

import re
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.models import Member
from notifications.digests import write_digests
from notifications.models import Message
from tests.factories import MemberFactory

pytestmark = pytest.mark.security
EVENING = datetime(2026, 3, 1, 20, tzinfo=UTC)
MORNING = datetime(2026, 3, 2, 7, tzinfo=UTC)  # eight in Madrid
DAY = timedelta(days=1)
TYPED = "correct-horse-typed"


def guess(name, times=5, address="192.0.2.1", at=EVENING):
    with time_machine.travel(at, tick=False):
        for _ in range(times):
            Client().post("/sign-in/", {"username": name, "password": TYPED}, REMOTE_ADDR=address)


def mails(house, at=MORNING):
    with house.scope():
        return {message.member: message for message in write_digests(organisation=house.organisation, now=at)}


def test_an_owner_hears_once_of_a_lock_and_of_the_next_one(farm):
    guess(farm.technician.user.username, times=9)  # four of them refused unseen
    told = mails(farm)
    assert list(told) == [farm.owner]
    message = told[farm.owner]
    assert message.subject == "1 sign-in stopped"
    when = "1 time in two days, last on Sun 1 Mar at 21:00 from 192.0.2.1"
    assert f"- {farm.technician}, {when}" in message.body
    assert "/people/refused/" in message.body
    assert TYPED not in message.body
    assert mails(farm, MORNING + DAY) == {}
    guess(farm.technician.user.username, at=MORNING + DAY + timedelta(hours=3))
    assert "1 time in two days" in mails(farm, MORNING + 2 * DAY)[farm.owner].body


def test_a_lock_is_told_for_two_days_where_no_mail_went_out(farm):
    guess(farm.technician.user.username)
    guess(farm.counter.user.username, at=EVENING + timedelta(seconds=1))
    body = mails(farm, EVENING + timedelta(days=2))[farm.owner].body
    assert f"- {farm.counter}, 1 time" in body
    assert f"- {farm.technician}, " not in body


def test_wrong_passwords_that_stop_nobody_are_no_news(farm):
    guess(farm.technician.user.username, times=4)
    assert mails(farm) == {}


def test_names_that_nobody_has_are_told_to_nobody(farm, stranger):
    guess(TYPED, times=9)
    assert mails(farm) == mails(stranger) == {}


def test_strangers_make_one_mail_a_day_however_hard_they_try(farm):
    for number in range(12):
        guess(farm.technician.user.username, address=f"198.51.100.{number}")
        guess(farm.owner.user.username, address=f"203.0.113.{number}")
    (message,) = mails(farm).values()
    assert message.body.count("\n- ") == 2  # a line for each person
    for hour in range(1, 12):
        guess(farm.counter.user.username, at=MORNING + timedelta(hours=hour))
        assert mails(farm, MORNING + timedelta(hours=hour)) == {}
    with farm.scope():
        assert Message.objects.count() == 1
    assert list(mails(farm, MORNING + DAY)) == [farm.owner]


def test_each_organisation_of_the_account_hears_and_no_other(farm, stranger):
    shared = MemberFactory(organisation=stranger.organisation, user=farm.technician.user, role="manager")
    guess(farm.technician.user.username)
    body = mails(stranger)[stranger.owner].body
    assert f"- {shared}, 1 time" in body
    assert farm.organisation.name not in body
    guess(stranger.counter.user.username, address="198.51.100.7", at=MORNING)
    assert "198.51.100.7" not in mails(farm)[farm.owner].body


def test_a_long_list_leads_to_the_page_of_refused_sign_ins(farm):
    for number in range(42):
        person = MemberFactory(organisation=farm.organisation)
        guess(person.user.username, address=f"198.51.100.{number}")
    body = mails(farm)[farm.owner].body
    assert body.count("\n- ") == 40
    assert re.search(r"and 2 more: \S+/people/refused/", body)


def test_who_left_and_owners_who_want_no_mail_are_left_out(farm):
    guess(farm.technician.user.username)
    with farm.scope():
        Member.objects.filter(pk=farm.owner.pk).update(mail=False)
        assert mails(farm) == {}
        Member.objects.filter(pk=farm.owner.pk).update(mail=True)
        Member.objects.filter(pk=farm.technician.pk).update(active=False)
        assert mails(farm, MORNING + timedelta(hours=20)) == {}


def test_more_of_them_ask_no_more_queries(farm):
    def asked(at):
        with CaptureQueriesContext(connection) as queries:
            assert mails(farm, at)
        return len(queries)

    guess(farm.technician.user.username)
    few = asked(MORNING)
    for number, role in enumerate(("technician", "counter", "manager")):
        guess(getattr(farm, role).user.username, address=f"198.51.100.{number}", at=MORNING + DAY / 2)
    assert asked(MORNING + DAY) == few
