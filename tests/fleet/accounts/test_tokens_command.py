"""`manage.py tokens`: devices' tokens from a terminal."""

from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.models import ApiToken
from tests.cast import bearer
from tests.factories import MachineFactory

URL = "/api/v1/readings"


def said(*arguments):
    out = StringIO()
    call_command("tokens", "alder-farm", *arguments, stdout=out)
    return out.getvalue().strip()


def status(secret):
    return bearer(secret).post(URL, []).status_code


def test_made_rotated_listed_and_ended(farm):
    machine = farm.machine(tag="T-07")
    MachineFactory(organisation=farm.organisation, tag="T-08")
    secret = said("make", "box in the barn", "--machine", "t-07")
    rows = [{"machine": tag, "taken_at": "2026-03-01T12:00:00Z", "meter": 1} for tag in ("T-07", "T-08")]
    answer = bearer(secret).post(URL, rows).json()
    assert [row["outcome"] for row in answer["readings"]] == ["counted", "refused"]
    until = (datetime.now(UTC) + timedelta(hours=2)).isoformat()
    new = said("rotate", "box in the barn", "--old-until", until)
    assert (status(secret), status(new)) == (200, 200)
    newest = said("rotate", "box in the barn")
    assert [status(each) for each in (secret, new, newest)] == [401, 401, 200]
    said("make", "spare", "--yard", machine.yard.name.upper())
    listed = said("list").splitlines()
    assert [line.split(" (")[0] for line in listed] == ["box in the barn", "spare"]
    assert listed[0].endswith("; T-07")
    assert listed[1].endswith(f"never used; yard {machine.yard.name}")
    said("end", "box in the barn")
    assert status(newest) == 401
    assert "; ended " in said("list").splitlines()[0]
    with farm.scope():
        assert set(ApiToken.objects.values_list("created_by", flat=True)) == {farm.owner.pk}


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["make", "box", "--machine", "T-9"], "No machine has the fleet number T-9."),
        (["make", "box", "--yard", "Moon"], "No yard is called Moon."),
        (["make", " "], "Say what will use it"),
        (["rotate", "box"], "No device's token in use has the name 'box'."),
        (["end", "box"], "No device's token in use has the name 'box'."),
        (["--as", "nobody@example.org", "list"], "No active member has the address nobody@example.org."),
    ],
)
def test_one_clear_line_when_it_cannot(farm, arguments, sentence):
    with pytest.raises(CommandError, match=f"^{sentence}"):
        said(*arguments)


@pytest.mark.parametrize("time", ["soon", "2026-05-03T14:30:00", "2020-01-01T00:00:00Z"])
def test_an_hour_that_cannot_be(farm, time):
    secret = said("make", "box")
    with pytest.raises(CommandError):
        said("rotate", "box", "--old-until", time)
    assert status(secret) == 200


def test_a_technician_makes_none(farm):
    with pytest.raises(CommandError, match="Your role can't make tokens"):
        said("--as", farm.technician.user.email, "make", "box")


def test_an_unknown_organisation(db):
    with pytest.raises(CommandError, match="There is no organisation 'alder-farm'"):
        said("list")
