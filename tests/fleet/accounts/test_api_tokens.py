"""Tokens of devices: limited to machines and yards, rotated without losing what they sent before."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from fleet.accounts import api_tokens
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.models import ApiToken
from tests.cast import bearer
from tests.factories import MachineFactory, YardFactory

URL = "/api/v1/readings"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def device(house, **limits):
    with house.scope():
        return api_tokens.issue(name="box", member=house.manager, device=True, **limits)


def outcomes(secret, *machines):
    rows = [{"machine": one.pk, "taken_at": "2026-03-01T11:00:00Z", "meter": 5} for one in machines]
    answer = bearer(secret).post(URL, rows)
    return [(row["outcome"], row["code"]) for row in answer.json()["readings"]]


@pytest.fixture
def fleet(farm):
    make = {"organisation": farm.organisation}
    north = YardFactory(**make)
    return [MachineFactory(yard=yard, **make) for yard in (farm.yard, farm.yard, north)]


COUNTED, OUT_OF_REACH = ("counted", "ok"), ("refused", "out_of_reach")


def test_a_device_limited_to_a_machine_and_a_yard(farm, fleet):
    named, other, of_north = fleet
    token, secret = device(farm, machines=[named], yards=[of_north.yard])
    assert outcomes(secret, named, other, of_north) == [COUNTED, OUT_OF_REACH, COUNTED]
    with farm.scope():
        other.yard = of_north.yard
        other.save()
    assert outcomes(secret, other) == [COUNTED]  # where it stands decides
    with farm.scope():
        token.revoke()
    _, free = device(farm)
    assert outcomes(free, *fleet) == [("duplicate", "duplicate")] * 3


def test_a_limit_whose_machine_is_gone_is_still_a_limit(farm, fleet):
    token, secret = device(farm, machines=[fleet[0]])
    with farm.scope():
        token.machines.clear()
    assert outcomes(secret, *fleet) == [OUT_OF_REACH] * 3


def test_who_may_limit_what(farm, stranger, fleet):
    with farm.scope(), pytest.raises(FleetError) as refused:
        api_tokens.issue(name="mine", member=farm.manager, machines=[fleet[0]])
    assert refused.value.field == "machines"
    for limits in (
        {"machines": [MachineFactory(organisation=stranger.organisation)]},
        {"yards": [stranger.yard]},
    ):
        with pytest.raises(NotAllowed):
            device(farm, **limits)


def test_a_rotated_token_is_the_same_sender(farm, fleet):
    token, old = device(farm)
    row = {"machine": fleet[0].pk, "taken_at": "2026-03-01T11:00:00Z", "meter": 5, "client_id": "a"}
    assert bearer(old).post(URL, row).json()["counted"] == 1
    with farm.scope():
        new = api_tokens.rotate(token=token, member=farm.manager)
    assert bearer(old).post(URL, row).status_code == 401
    assert bearer(new).post(URL, row | {"meter": 6}).json()["duplicate"] == 1


def test_the_old_secret_is_good_until_the_stated_hour(farm, fleet):
    with time_machine.travel(NOON, tick=False) as clock:
        token, old = device(farm)
        with farm.scope():
            new = api_tokens.rotate(token=token, member=farm.manager, old_until=NOON + timedelta(hours=6))
        for hours, status in ((0, 200), (5, 200), (6, 401)):
            clock.move_to(NOON + timedelta(hours=hours))
            assert bearer(old).post(URL, []).status_code == status, hours
            assert bearer(new).post(URL, []).status_code == 200
        with farm.scope():
            kept = ApiToken.objects.get()
        assert (kept.last_used_at, kept.old_used_at) == (NOON + timedelta(hours=6), NOON + timedelta(hours=5))
        assert old[:10] == kept.old_prefix


def test_a_tokens_use_is_noted_to_the_minute(farm):
    with time_machine.travel(NOON, tick=False), farm.scope():
        _, secret = device(farm)
        noted = []
        for seconds in (0, 60, 61):
            used = ApiToken.objects.used(secret, at=NOON + timedelta(seconds=seconds))
            noted.append(used.last_used_at - NOON)
    assert noted == [timedelta(0), timedelta(0), timedelta(seconds=61)]


def test_a_second_rotation_ends_the_first_secret(farm):
    token, first = device(farm)
    until = datetime.now(UTC) + timedelta(days=1)
    with farm.scope():
        second = api_tokens.rotate(token=token, member=farm.manager, old_until=until)
        third = api_tokens.rotate(token=token, member=farm.manager, old_until=until)
    statuses = [bearer(secret).post(URL, []).status_code for secret in (first, second, third)]
    assert statuses == [401, 200, 200]


def test_an_ended_token_takes_both_secrets_with_it_and_is_not_rotated(farm):
    token, old = device(farm)
    with farm.scope():
        new = api_tokens.rotate(
            token=token, member=farm.manager, old_until=datetime.now(UTC) + timedelta(days=1)
        )
        api_tokens.revoke(token=token, member=farm.manager)
        with pytest.raises(WrongState):
            api_tokens.rotate(token=token, member=farm.manager)
    assert [bearer(secret).post(URL, []).status_code for secret in (old, new)] == [401, 401]


def test_who_may_rotate_and_until_when(farm, stranger):
    token, _ = device(farm)
    with farm.scope():
        for member in (farm.technician, farm.counter, stranger.owner):
            with pytest.raises(NotAllowed):
                api_tokens.rotate(token=token, member=member)
        with pytest.raises(FleetError) as refused:
            api_tokens.rotate(
                token=token, member=farm.owner, old_until=datetime.now(UTC) - timedelta(seconds=1)
            )
    assert refused.value.field == "old_until"
