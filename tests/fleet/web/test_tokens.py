"""Tokens: the secret is shown once and kept nowhere, and ends when it is ended."""

import json
import re
import shlex
from html import unescape

import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from fleet.models import ApiToken
from tests.cast import bearer
from tests.fleet.web.rows import all_readings, device_token, machine_of, own_token
from tests.fleet.web.test_people import everything_stored

SECRET = re.compile(r'value="(hm_[^"]+)"')


def make(house, role, **data):
    return house.client(role).post("/tokens/new/", {"name": "office", "stands_for": "me"} | data)


def secret_in(answer):
    assert answer.status_code == 200
    return SECRET.search(answer.content.decode()).group(1)


def test_the_secret_is_shown_once_and_kept_nowhere(farm):
    answer = make(farm, "technician")
    secret = secret_in(answer)
    assert "no-store" in answer["Cache-Control"]
    assert secret not in everything_stored()
    assert secret not in farm.client("technician").get("/tokens/").content.decode()
    assert secret[:10] in farm.client("technician").get("/tokens/").content.decode()


def test_the_line_shown_posts_a_reading(farm):
    machine = machine_of(farm, tag="T-07 'old'")
    page = make(farm, "technician").content.decode()
    line = unescape(re.search(r"<pre[^>]*>(.*?)</pre>", page, re.S).group(1))
    words = shlex.split(line)
    assert words[:2] == ["curl", "http://testserver/api/v1/readings"]
    scheme, secret = words[words.index("-H") + 1].removeprefix("Authorization: ").split()
    assert scheme == "Bearer"
    answer = bearer(secret).post("/api/v1/readings", json.loads(words[-1]), format="json")
    assert answer.status_code == 200
    (reading,) = all_readings()
    assert (reading.machine_id, reading.state) == (machine.pk, "counted")


@pytest.mark.parametrize(("role", "device"), [("owner", True), ("manager", True), ("technician", False)])
def test_who_may_make_a_devices_token(farm, role, device):
    secret_in(make(farm, role, stands_for="device"))
    with scopes_disabled():
        assert ApiToken.objects.get().is_device is device


def test_a_token_of_the_same_name_is_not_made_again(farm):
    """So that loading the answer again, which sends the form again, makes no second one."""
    secret_in(make(farm, "technician"))
    again = make(farm, "technician")
    assert again.context["form"].errors.keys() == {"name"}
    secret_in(make(farm, "manager"))
    with scopes_disabled():
        assert ApiToken.objects.count() == 2


def test_a_token_is_ended(farm):
    secret = secret_in(make(farm, "technician"))
    assert bearer(secret).get("/api/v1/machines").status_code == 200
    with scopes_disabled():
        token = ApiToken.objects.get()
    farm.client("technician").post(reverse("token-revoke", args=[token.pk]))
    assert bearer(secret).get("/api/v1/machines").status_code == 401
    assert "ended" in farm.client("technician").get("/tokens/").content.decode()


def test_the_list_shows_ones_own_and_the_devices_to_those_who_see_to_them(farm, stranger):
    device_token(farm), device_token(stranger)
    for role in ("owner", "technician"):
        own_token(farm, role)
    seen = {
        role: [
            (token.member, token.organisation_id)
            for token in farm.client(role).get("/tokens/").context["page"]
        ]
        for role in ("owner", "manager", "technician", "counter")
    }
    ours = farm.organisation.pk
    assert sorted(seen["owner"], key=str) == sorted([(farm.owner, ours), (None, ours)], key=str)
    assert seen["manager"] == [(None, ours)]
    assert seen["technician"] == [(farm.technician, ours)]
    assert seen["counter"] == []


def test_the_last_use_is_shown(farm):
    secret = secret_in(make(farm, "technician"))
    assert "never used" in farm.client("technician").get("/tokens/").content.decode()
    bearer(secret).get("/api/v1/machines")
    assert "never used" not in farm.client("technician").get("/tokens/").content.decode()
