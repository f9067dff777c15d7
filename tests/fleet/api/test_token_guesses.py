"""Tokens guessed over the API: bounded by address, without holding up whoever has the right one."""

import pytest
from django.test import Client

from fleet.sign_in.limits import TOKENS
from tests.factories.fleet import PASSWORD

pytestmark = [pytest.mark.security, pytest.mark.django_db]
HERE = "192.0.2.1"


def guess(number, *, scheme="Bearer", path="/api/v1/machines", address=HERE):
    return Client().get(path, headers={"Authorization": f"{scheme} hm_guess{number}"}, REMOTE_ADDR=address)


def test_after_thirty_unknown_tokens_an_address_waits():
    assert [guess(number).status_code for number in range(TOKENS)] == [401] * TOKENS
    answer = guess(TOKENS)
    assert (answer.status_code, answer["Content-Type"]) == (429, "application/problem+json")
    assert 14 * 60 < int(answer["Retry-After"]) <= 15 * 60
    body = answer.json()
    assert (body["status"], body["title"]) == (429, "Too Many Requests")
    assert "Try again in 15 minutes" in body["detail"].replace("try", "Try")
    assert guess(0, address="192.0.2.2").status_code == 401


@pytest.mark.parametrize("scheme", ["Basic", "Token", "bearer", ""])
def test_however_the_secret_is_sent(scheme):
    for number in range(TOKENS):
        guess(number, scheme=scheme)
    assert guess(0).status_code == 429


def test_pages_tell_no_more_than_the_api():
    for number in range(TOKENS):
        guess(number, path="/machines/")
    assert guess(0, path="/machines/").status_code == 429


def test_whoever_has_a_right_token_or_a_password_is_not_held_up(farm, enter_at):
    for number in range(TOKENS + 5):
        guess(number, address="127.0.0.1")
    assert farm.api("owner").get("/api/v1/machines").status_code == 200
    assert farm.device().post("/api/v1/readings", {"readings": []}).status_code != 429
    assert enter_at(farm).status_code == 302


@pytest.fixture
def enter_at():
    def typed(house):
        return Client().post("/sign-in/", {"username": house.owner.user.username, "password": PASSWORD})

    return typed
