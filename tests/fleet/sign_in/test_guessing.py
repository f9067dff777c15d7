"""Guessing passwords: stopped by address, slowed by name, and never in the way of a known browser."""

import logging
from datetime import timedelta

import pytest
import time_machine
from axes.models import AccessAttempt, AccessFailureLog
from django.conf import settings
from django.contrib.auth import authenticate
from django.contrib.auth.hashers import make_password
from django.core.management import call_command
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.sign_in import attempts, devices, hashing, limits
from fleet.sign_in.names import key_of
from fleet.tasks import forget_sign_ins
from tests.factories import UserFactory
from tests.factories.fleet import PASSWORD
from tests.fleet.sign_in.conftest import NAME

pytestmark = [pytest.mark.security, pytest.mark.django_db]
WAITS = "Try again in 15 minutes."


def statuses(enter, times, **typed):
    return [enter(**typed).status_code for _ in range(times)]


def test_after_five_wrong_passwords_even_the_right_one_waits(ada, enter):
    assert statuses(enter, 5) == [200, 200, 200, 200, 429]
    answer = enter(password=PASSWORD)
    assert answer.status_code == 429
    assert 14 * 60 < int(answer["Retry-After"]) <= 15 * 60
    page = answer.content.decode()
    assert f"Too many wrong passwords for this name. {WAITS}" in page
    assert f'value="{NAME}"' in page  # what was typed is still there
    assert "_auth_user_id" not in answer.client.session


def test_the_wait_ends_and_the_right_password_opens(ada, enter):
    with time_machine.travel("2026-05-04T10:00:00Z", tick=False) as clock:
        statuses(enter, 5)
        clock.shift(timedelta(minutes=15) - timedelta(seconds=1))
        assert enter(password=PASSWORD).status_code == 429
        clock.shift(timedelta(seconds=1))
        assert enter(password=PASSWORD).status_code == 302


def test_the_right_password_forgets_the_wrong_ones(ada, enter):
    for _ in range(3):
        assert statuses(enter, 4) == [200] * 4
        assert enter(password=PASSWORD).status_code == 302


def test_other_addresses_and_names_go_on(ada, enter):
    statuses(enter, 5)
    assert enter(password=PASSWORD, address="192.0.2.2").status_code == 302
    assert enter(name=UserFactory().username, password=PASSWORD).status_code == 302


@pytest.mark.parametrize(
    "variants",
    [
        ["ada@example.org", "ADA@example.org", "Ada@Example.ORG", " ada@example.org ", "aDa@example.org"],
        [
            "ada@example.org",
            "\uff41da@example.org",
            "a\uff24a@example.org",
            "ada@ex\uff41mple.org",
            "ADA@EXAMPLE.ORG",
        ],
    ],
    ids=["capitals", "full width"],
)
def test_a_name_typed_otherwise_is_the_same_name(ada, enter, variants):
    assert [enter(name=name).status_code for name in variants] == [200, 200, 200, 200, 429]
    assert enter(password=PASSWORD).status_code == 429


def test_composed_and_decomposed_names_count_as_one(enter):
    composed, decomposed = "\u00f6d\u00f6n", "o\u0308do\u0308n"
    assert statuses(enter, 3, name=composed) == [200] * 3
    assert statuses(enter, 2, name=decomposed.upper()) == [200, 429]


def test_addresses_of_one_ipv6_network_count_as_one(ada, enter):
    answers = [enter(address=f"2001:db8:1:2::{n:x}").status_code for n in range(1, 6)]
    assert answers == [200, 200, 200, 200, 429]
    assert enter(address="2001:db8:1:3::1", password=PASSWORD).status_code == 302


def test_a_made_up_forwarded_address_changes_nothing(ada):
    answers = [
        Client().post(
            "/sign-in/",
            {"username": NAME, "password": "wrong"},
            headers={"X-Forwarded-For": f"198.51.100.{n}", "X-Real-IP": f"198.51.100.{n}"},
        )
        for n in range(6)
    ]
    assert [answer.status_code for answer in answers] == [200, 200, 200, 200, 429, 429]


def test_one_address_can_t_go_through_many_names(ada, enter):
    for number in range(29):
        assert enter(name=f"nobody{number}").status_code == 200
    assert enter(name="nobody29").status_code == 429
    answer = enter(password=PASSWORD)
    assert (answer.status_code, "from your network" in answer.content.decode()) == (429, True)


def test_ones_own_account_does_not_clear_the_address(ada, enter):
    """An attacker with a sign-in of their own signs in between the guesses."""
    mine = UserFactory().username
    for number in range(29):
        enter(name=f"nobody{number}")
        if number % 5 == 0:
            assert enter(name=mine, password=PASSWORD).status_code == 302
    assert enter().status_code == 429
    assert enter(name=mine, password=PASSWORD).status_code == 429


def test_a_thousand_strangers_never_keep_a_known_browser_out(known, enter, hashes):
    """From a thousand addresses; no attack that lasts may stop the owner."""
    refused = 0
    for number in range(1000):
        request = RequestFactory().post("/sign-in/", REMOTE_ADDR=f"10.{number // 250}.{number % 250}.7")
        assert authenticate(request, username=NAME, password="wrong") is None
        refused += request.axes_locked_out
    assert refused >= 1000 - limits.ACCOUNT - 5
    assert len(hashes) <= limits.ACCOUNT + 5  # slowed, so a dictionary gets nowhere
    assert enter(password=PASSWORD, browser=known, address="203.0.113.50").status_code == 302
    known.post("/sign-out/")
    assert enter(password=PASSWORD, browser=known, address="10.0.3.7").status_code == 302


def test_strangers_from_many_addresses_only_slow_a_new_browser(ada, enter):
    with time_machine.travel("2026-05-04T10:00:00Z", tick=False) as clock:
        for number in range(2 * limits.ACCOUNT):
            enter(address=f"198.51.100.{number}")
        answer = enter(password=PASSWORD, address="203.0.113.50")
        assert answer.status_code == 429
        assert "new devices take turns" in answer.content.decode()
        assert answer["Retry-After"] == "60"
        clock.shift(timedelta(minutes=1))
        assert enter(password=PASSWORD, address="203.0.113.50").status_code == 302


def test_a_known_browser_has_no_endless_tries(known, enter):
    seen = [enter(browser=known, address="203.0.113.50").status_code for _ in range(20)]
    assert seen.count(200) == limits.DEVICE + limits.PAIR - 1
    assert seen[-5:] == [429] * 5


def test_a_cookie_counts_for_its_own_person_only(known, enter):
    other = UserFactory().username
    seen = [enter(name=other, browser=known, address="203.0.113.50").status_code for _ in range(6)]
    assert seen == [200, 200, 200, 200, 429, 429]


@pytest.mark.parametrize("made_up", ["", "x", "eyJhIjoiYiJ9:1abc:forged", "{}"])
def test_a_made_up_cookie_is_no_known_browser(ada, enter, settings, made_up):
    browser = Client()
    browser.cookies[settings.KNOWN_DEVICE_COOKIE] = made_up
    assert statuses(enter, 6, browser=browser) == [200, 200, 200, 200, 429, 429]


def test_the_cookie_is_out_of_reach_of_scripts(known, settings):
    cookie = known.cookies[settings.KNOWN_DEVICE_COOKIE]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
    assert NAME not in cookie.value


def test_a_shared_browser_knows_several_people(known, enter):
    other = UserFactory().username
    enter(name=other, password=PASSWORD, browser=known)
    known.post("/sign-out/")
    for number in range(40):
        enter(address=f"198.51.100.{number}")
        enter(name=other, address=f"198.51.100.{number}")
    assert enter(password=PASSWORD, browser=known).status_code == 302
    known.post("/sign-out/")
    assert enter(name=other, password=PASSWORD, browser=known).status_code == 302


def is_known(browser):
    request = RequestFactory().get("/")
    request.COOKIES[settings.KNOWN_DEVICE_COOKIE] = browser.cookies[settings.KNOWN_DEVICE_COOKIE].value
    return bool(devices.of(request, key_of(NAME)))


def test_a_browser_remembers_the_last_eight_people(known, enter):
    for _ in range(7):
        enter(name=UserFactory().username, password=PASSWORD, browser=known)
        known.post("/sign-out/")
    assert is_known(known)
    enter(name=UserFactory().username, password=PASSWORD, browser=known)
    assert not is_known(known)


def test_a_browser_is_known_as_long_as_it_may_keep_a_cookie(ada, enter):
    """400 days: RFC 6265bis, 5.5."""
    browser = Client()
    with time_machine.travel("2026-05-04T10:00:00Z", tick=False) as clock:
        enter(password=PASSWORD, browser=browser)
        assert browser.cookies[settings.KNOWN_DEVICE_COOKIE]["max-age"] == 400 * 24 * 3600
        clock.shift(timedelta(days=400))
        assert is_known(browser)
        clock.shift(timedelta(seconds=1))
        assert not is_known(browser)


# ------------------------------------------------------------------ hashing


def test_a_wait_is_told_without_hashing(ada, enter, hashes):
    statuses(enter, 5)
    hashes.clear()
    assert statuses(enter, 3, password=PASSWORD) == [429] * 3
    assert hashes == []


def test_unknown_unusable_switched_off_and_known_names_take_one_hash_each(ada, enter, hashes):
    invited = UserFactory(password=make_password(None))
    gone = UserFactory(is_active=False)
    for name in (NAME, "nobody@example.org", invited.username, gone.username):
        hashes.clear()
        assert enter(name=name, password="a guess").status_code == 200
        assert len(hashes) == 1, name


def test_known_and_unknown_names_ask_the_database_as_often(ada, enter):
    enter(name="whoever comes first begins the count of the address")
    asked = []
    for name in (NAME, "nobody@example.org"):
        with CaptureQueriesContext(connection) as queries:
            enter(name=name)
        asked.append([query["sql"].split()[0] for query in queries])
    assert asked[0] == asked[1]


def test_a_password_of_a_megabyte_is_wrong_without_hashing(ada, enter, hashes):
    longest = "x" * 1024
    assert enter(password=longest).status_code == 200
    assert hashes == [longest]
    assert enter(password=longest + "x").status_code == 200
    assert enter(password="x" * 1_000_000).status_code == 200
    assert hashes == [longest]
    assert statuses(enter, 2) == [200, 429]  # they were counted all the same


def test_no_password_is_set_that_could_not_sign_in(farm):
    browser = farm.client("technician")
    long = "x7-" * 400
    answer = browser.post(
        "/account/password/", {"old_password": PASSWORD, "new_password1": long, "new_password2": long}
    )
    assert answer.status_code == 422
    assert "1,024 characters at most" in answer.content.decode()


def test_right_passwords_are_bounded_too(ada, enter, hashes, monkeypatch):
    """Whoever has a sign-in can't have the server hash without end: by address, and by person where known."""
    monkeypatch.setattr(limits, "CHECKS", 12)
    browser = Client()
    with time_machine.travel("2026-05-04T10:00:00Z", tick=False) as clock:
        enter(password=PASSWORD, browser=browser, address="192.0.2.2")
        hashes.clear()
        assert statuses(enter, 14, password=PASSWORD) == [302] * 12 + [429] * 2
        seen = []
        for _ in range(14):
            browser.post("/sign-out/")
            seen.append(enter(password=PASSWORD, browser=browser, address="192.0.2.2").status_code)
        assert seen == [302] * 12 + [429] * 2
        assert len(hashes) == 24
        clock.shift(timedelta(minutes=15))
        assert enter(password=PASSWORD).status_code == 302


def test_one_is_hashed_at_a_time_one_waits_and_the_rest_are_sent_away(ada, enter, hashes, monkeypatch):
    monkeypatch.setattr(hashing, "PATIENCE", 0.01)
    with hashing.STRANGERS.one():
        answer = enter(password=PASSWORD)
    assert (answer.status_code, answer["Retry-After"]) == (429, "5")
    assert "signing in just now" in answer.content.decode()
    assert hashes == []
    assert statuses(enter, 4) == [200] * 4  # nothing of it was counted


def test_strangers_leave_known_browsers_their_turn(known, enter):
    with hashing.STRANGERS.one():
        assert enter(password=PASSWORD, browser=known).status_code == 302


# ------------------------------------------------------------------ everywhere else a password is typed


def test_the_admin_counts_and_says_so(ada, enter):
    ada.is_staff = ada.is_superuser = True
    ada.save()
    seen = statuses(enter, 6, page="/admin/login/")
    assert seen == [200, 200, 200, 200, 429, 429]
    answer = enter(password=PASSWORD, page="/admin/login/")
    assert WAITS in answer.content.decode()
    assert enter(password=PASSWORD).status_code == 429  # the same count as at the other door


def change(browser, old, page="/account/password/"):
    return browser.post(
        page, {"old_password": old, "new_password1": "odd-words-3", "new_password2": "odd-words-3"}
    )


@pytest.mark.parametrize("page", ["/account/password/", "/admin/password_change/"])
def test_who_finds_an_open_session_can_t_guess_its_password(ada, page):
    ada.is_staff = ada.is_superuser = True
    ada.save()
    browser = Client()
    browser.force_login(ada)
    seen = [change(browser, "wrong", page) for _ in range(limits.DEVICE + limits.PAIR)]
    assert seen[-1].status_code == 429
    answer = change(browser, PASSWORD, page)
    assert answer.status_code == 429
    assert WAITS in answer.content.decode()
    assert answer["Retry-After"]


def test_strangers_don_t_keep_the_owner_from_changing_the_password(ada, enter):
    browser = Client()
    browser.force_login(ada)
    for number in range(60):
        enter(address=f"198.51.100.{number}")
    statuses(enter, 6, address="127.0.0.1")
    assert change(browser, PASSWORD).status_code == 302


# ------------------------------------------------------------------ kept, logged, forgotten


def test_no_typed_name_or_password_is_kept_or_logged(ada, enter, caplog):
    with caplog.at_level(logging.INFO):
        enter(name="hunter2-typed-in-the-wrong-box", password="hunter2")
        enter(password="hunter2")
    assert "hunter2" not in caplog.text
    assert f"wrong password for {NAME} from 192.0.2.1" in caplog.text
    assert "wrong password for an unknown name from 192.0.2.1" in caplog.text
    for row in [*AccessAttempt.objects.values(), *AccessFailureLog.objects.values()]:
        assert "hunter2" not in str(row)


def test_a_wait_is_logged_once_and_what_it_refuses_is_told(ada, enter, caplog):
    with caplog.at_level(logging.INFO):
        statuses(enter, 7)
    assert caplog.text.count("wait until") == 1
    assert caplog.text.count("refused unseen: pair") == 2
    assert AccessFailureLog.objects.count() == 5  # a flood of refused ones fills no table


def test_counts_go_after_a_day_and_records_after_a_fortnight(ada, enter):
    with time_machine.travel("2026-05-04T10:00:00Z", tick=False) as clock:
        enter()
        clock.shift(timedelta(days=1) - timedelta(seconds=1))
        assert forget_sign_ins() == 0
        clock.shift(timedelta(seconds=1))
        assert forget_sign_ins() == 2  # the wrong one, and that a hash was made
        clock.shift(timedelta(days=13) - timedelta(seconds=1))
        assert forget_sign_ins() == 0
        clock.shift(timedelta(seconds=1))
        assert forget_sign_ins() == 1
        assert not AccessFailureLog.objects.exists()


def test_the_operator_lets_a_name_in_by_command(ada, enter, capsys):
    statuses(enter, 5)
    call_command("axes_reset_username", "ADA@example.org")
    assert "1 attempts removed" in capsys.readouterr().out
    assert enter(password=PASSWORD).status_code == 302


def test_who_is_signed_in_already_asks_no_count(ada):
    browser = Client()
    with CaptureQueriesContext(connection) as queries:
        browser.force_login(ada)
        browser.get("/account/")
    assert not [query["sql"] for query in queries if "axes" in query["sql"]]


def test_a_count_is_the_same_for_every_worker(ada, enter):
    """It is in the database: another process goes on where this one stopped."""
    statuses(enter, 4)
    row = AccessAttempt.objects.get(username__startswith="name:")
    assert (row.failures_since_start, row.ip_address) == (4, "192.0.2.1")
    guess = limits.Guess(row.username, "192.0.2.1")
    assert attempts.reserve(guess, now=timezone.now())[1] is None
    assert attempts.reserve(guess, now=timezone.now())[1].why == limits.Why.PAIR
