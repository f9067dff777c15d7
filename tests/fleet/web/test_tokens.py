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


def test_a_devices_token_is_limited_on_the_page(farm):
    machine = machine_of(farm, tag="T-07")
    other = machine_of(farm, tag="T-08")
    secret = secret_in(make(farm, "manager", stands_for="device", machines="t-07; "))
    rows = [{"machine": one.pk, "taken_at": "2026-03-01T12:00:00Z", "shows": 1} for one in (machine, other)]
    answer = bearer(secret).post("/api/v1/readings", rows).json()
    assert [row["code"] for row in answer["readings"]] == ["ok", "out_of_reach"]
    assert "may send readings of T-07;" in farm.client("manager").get("/tokens/").content.decode()
    secret = secret_in(make(farm, "manager", name="yard", stands_for="device", yards=[farm.yard.pk]))
    assert bearer(secret).post("/api/v1/readings", rows).json()["counted"] == 1
    assert f"what stands in {farm.yard}" in farm.client("manager").get("/tokens/").content.decode()


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"stands_for": "device", "machines": "T-07, T-99"}, "machines"),
        ({"stands_for": "me", "machines": "T-07"}, "stands_for"),
        ({"stands_for": "device", "yards": ["999999"]}, "yards"),
    ],
)
def test_limits_that_cannot_be(farm, given, field):
    machine_of(farm, tag="T-07")
    answer = make(farm, "manager", **given)
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, [field])
    with scopes_disabled():
        assert not ApiToken.objects.exists()


def test_a_new_secret_and_an_hour_for_the_old_one(farm):
    """The hour is the organisation's: Europe/Madrid, two hours ahead of UTC on that day."""
    old = secret_in(make(farm, "manager", stands_for="device"))
    with scopes_disabled():
        token = ApiToken.objects.get()
    address = reverse("token-rotate", args=[token.pk])
    past = farm.client("manager").post(address, {"old_until": "2020-05-04T14:00"})
    assert (past.status_code, list(past.context["form"].errors)) == (422, ["old_until"])
    answer = farm.client("manager").post(address, {"old_until": "2046-05-04T14:00"})
    new = secret_in(answer)
    assert "no-store" in answer["Cache-Control"]
    assert "good until" in answer.content.decode()
    with scopes_disabled():
        token.refresh_from_db()
    assert token.old_until.isoformat() == "2046-05-04T12:00:00+00:00"
    assert [bearer(each).post("/api/v1/readings", []).status_code for each in (old, new)] == [200, 200]
    shown = farm.client("manager").get("/tokens/").content.decode()
    assert "is good until" in shown
    assert old[:10] in shown
    secret_in(farm.client("manager").post(address, {"old_until": ""}))
    assert [bearer(each).post("/api/v1/readings", []).status_code for each in (old, new)] == [401, 401]


def test_an_ended_token_gets_no_new_secret(farm):
    secret_in(make(farm, "technician"))
    with scopes_disabled():
        token = ApiToken.objects.get()
        token.revoke()
    assert farm.client("technician").get(reverse("token-rotate", args=[token.pk])).status_code == 404
