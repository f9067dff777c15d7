"""Tokens: the secret is shown once and kept nowhere, and ends when it is ended."""

import json
import re
import shlex
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from fleet.models import ApiToken
from tests.cast import bearer
from tests.fleet.web.rows import all_readings, device_token, own_token
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
    machine = farm.machine(tag="T-07 'old'")
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
    machine = farm.machine(tag="T-07")
    other = farm.machine(tag="T-08")
    secret = secret_in(make(farm, "manager", stands_for="device", machines="t-07; "))
    rows = [{"machine": one.pk, "taken_at": "2026-03-01T12:00:00Z", "meter": 1} for one in (machine, other)]
    answer = bearer(secret).post("/api/v1/readings", rows).json()
    assert [row["code"] for row in answer["readings"]] == ["ok", "out_of_reach"]
    assert "can send readings of T-07;" in farm.client("manager").get("/tokens/").content.decode()
    secret = secret_in(make(farm, "manager", name="yard", stands_for="device", yards=[farm.yard.pk]))
    assert bearer(secret).post("/api/v1/readings", rows).json()["counted"] == 1
    assert f"machines in {farm.yard}" in farm.client("manager").get("/tokens/").content.decode()


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"stands_for": "device", "machines": "T-07, T-99"}, "machines"),
        ({"stands_for": "me", "machines": "T-07"}, "stands_for"),
        ({"stands_for": "device", "yards": ["999999"]}, "yards"),
    ],
)
def test_limits_that_cannot_be(farm, given, field):
    farm.machine(tag="T-07")
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
    assert "works until" in answer.content.decode()
    with scopes_disabled():
        token.refresh_from_db()
    assert token.old_until.isoformat() == "2046-05-04T12:00:00+00:00"
    assert [bearer(each).post("/api/v1/readings", []).status_code for each in (old, new)] == [200, 200]
    shown = farm.client("manager").get("/tokens/").content.decode()
    assert "works until" in shown
    assert old[:10] in shown
    secret_in(farm.client("manager").post(address, {"old_until": ""}))
    assert [bearer(each).post("/api/v1/readings", []).status_code for each in (old, new)] == [401, 401]


def test_an_ended_token_gets_no_new_secret(farm):
    secret_in(make(farm, "technician"))
    with scopes_disabled():
        token = ApiToken.objects.get()
        token.revoke()
    assert farm.client("technician").get(reverse("token-rotate", args=[token.pk])).status_code == 404


@pytest.mark.security
@pytest.mark.parametrize(("lasts", "days"), [("30", 30), ("90", 90), ("365", 365), ("", 365)])
def test_a_persons_token_ends_after_the_days_chosen(farm, lasts, days):
    with time_machine.travel("2026-05-04T10:00Z", tick=False) as clock:
        secret = secret_in(make(farm, "technician", lasts=lasts))
        assert f"{days} days left" in farm.client("technician").get("/tokens/").content.decode()
        clock.shift(timedelta(days=days, seconds=-1))
        assert bearer(secret).get("/api/v1/machines").status_code == 200
        assert "less than a day left" in farm.client("technician").get("/tokens/").content.decode()
        clock.shift(timedelta(seconds=1))
        answer = bearer(secret).get("/api/v1/machines")
        assert answer.status_code == 401
        day = (datetime(2026, 5, 4, tzinfo=UTC) + timedelta(days=days)).date()
        assert answer.json()["detail"].startswith(f"This token expired on {day}; give it a new secret")
        assert "expired" in farm.client("technician").get("/tokens/").content.decode()
        assert "unknown or was revoked" in bearer(secret + "x").get("/api/v1/machines").json()["detail"]


@pytest.mark.parametrize("lasts", ["0", "366", "-1", "a", "1e9"])
def test_no_other_span_is_taken(farm, lasts):
    answer = make(farm, "manager", stands_for="me", lasts=lasts)
    assert answer.context["form"].errors.keys() == {"lasts"}


def test_a_devices_token_lives_on(farm):
    secret = secret_in(make(farm, "manager", stands_for="device"))
    assert "Lasts until somebody ends it" in farm.client("manager").get("/tokens/").content.decode()
    with time_machine.travel(timezone.now() + timedelta(days=4000)):
        assert bearer(secret).post("/api/v1/readings", []).status_code == 200


@pytest.mark.security
def test_an_expired_token_gets_a_new_secret_and_its_old_one_stays_ended(farm):
    with time_machine.travel("2026-05-04T10:00Z", tick=False) as clock:
        old = secret_in(make(farm, "technician", lasts="30"))
        clock.shift(timedelta(days=31))
        with scopes_disabled():
            address = reverse("token-rotate", args=[ApiToken.objects.get().pk])
        refused = farm.client("technician").post(address, {"old_until": "2046-05-04T14:00"})
        assert refused.context["form"].errors.keys() == {"old_until"}
        new = secret_in(farm.client("technician").post(address, {"lasts": "90"}))
        assert [bearer(each).get("/api/v1/machines").status_code for each in (old, new)] == [401, 200]
        clock.shift(timedelta(days=90))
        assert bearer(new).get("/api/v1/machines").status_code == 401


def test_today_tells_that_a_token_is_about_to_end(farm):
    with time_machine.travel("2026-05-04T10:00Z", tick=False) as clock:
        make(farm, "technician", lasts="30")
        for days, told in ((15, False), (1, True), (14, False)):
            clock.shift(timedelta(days=days))
            page = farm.client("technician").get("/").content.decode()
            assert ("Token “office”" in page) is told, days
        assert "Token “office”" not in farm.client("manager").get("/").content.decode()
