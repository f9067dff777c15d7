"""Hires over the API, with the notes written when a unit went out and came back."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet.models import Hire
from servicing.models import Fault
from tests.factories import BookingFactory, ReadingFactory

NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
URL = "/api/v1/hires"
OUT, BACK = datetime(2026, 5, 1, 8, 0, tzinfo=UTC), datetime(2026, 5, 3, 16, 0, tzinfo=UTC)


def hire(house, machine, **values):
    asked = {"hirer": "Gala Ros", "out_at": OUT, "hours_out": 90, **values}
    with house.scope():
        return Hire.objects.create(organisation=house.organisation, machine=machine, **asked)


def test_both_notes_with_who_and_when(farm, machine):
    hire(
        farm,
        machine,
        note="With trailer",
        out_by=farm.counter,
        back_at=BACK,
        back_by=farm.manager,
        note_back="Muddy",
    )
    [told] = farm.api("technician").get(URL).json()["results"]
    notes = [
        (each["way"], each["by"], datetime.fromisoformat(each["at"]), each["text"]) for each in told["notes"]
    ]
    assert notes == [
        ("out", str(farm.counter), OUT, "With trailer"),
        ("back", str(farm.manager), BACK, "Muddy"),
    ]
    assert (told["hirer"], told["out_by"], told["back_by"]) == (
        "Gala Ros",
        str(farm.counter),
        str(farm.manager),
    )


def test_which_are_out_and_of_which_machine(farm, machine):
    ended, out = hire(farm, machine, back_at=BACK), hire(farm, machine, out_at=BACK, hirer="Pau Vila")
    other = farm.machine()
    elsewhere = hire(farm, other)

    def found(**asked):
        return {each["id"] for each in farm.api("owner").get(URL, asked).json()["results"]}

    assert found(machine=machine.pk) == {ended.pk, out.pk}
    assert found(out="true") == {out.pk, elsewhere.pk}
    assert found(out="false", machine=machine.pk) == {ended.pk}


def test_a_stranger_sees_none(farm, stranger, machine):
    hire(farm, machine)
    assert stranger.api("owner").get(URL).json()["results"] == []


@pytest.fixture
def unit(farm):
    machine = farm.machine(tag="H-1", for_hire=True)
    ReadingFactory(machine=machine, taken_at=OUT, shows=100)
    return machine


@pytest.mark.time_machine(NOON, tick=False)
def test_out_and_back(farm, stranger, unit, time_machine):
    desk = farm.api("counter")
    body = {"machine": unit.pk, "hirer": "Gala Ros", "due_back_on": "2026-05-06", "meter": "101", "fuel": 90}
    answer = desk.post(URL, body)
    assert answer.status_code == 201, answer.content
    out = answer.json()
    assert (out["verdict"], out["hire"]["hours_out"], out["hire"]["fuel_out"]) == (
        "out on hire",
        "101.00",
        90,
    )
    again = desk.post(URL, body)
    assert (again.status_code, again.json()["type"]) == (409, "urn:hourmark:problem:kept-in")
    back = f"{URL}/{out['hire']['id']}/back"
    assert stranger.api("owner").post(back, {}).status_code == 404
    assert farm.api("technician").post(back, {}).status_code == 403
    time_machine.move_to(NOON + timedelta(hours=8), tick=False)
    seen = {"faults_seen": [{"text": "Hose leaks.", "severity": "stops"}], "meter": "105", "note": "Muddy."}
    told = desk.post(back, seen).json()
    assert (told["verdict"], told["held"]) == ("service first", "")
    assert "Hose leaks." in told["reasons"][0]
    assert told["hire"]["hours_back"] == "105.00"
    assert desk.post(back, seen).status_code == 409
    added = desk.post(f"{URL}/{out['hire']['id']}/additions", {"fuel": 40})
    assert (added.status_code, added.json()["hire"]["fuel_back"]) == (200, 40)
    with farm.scope():
        assert Fault.objects.get().text == "Hose leaks."
    assert farm.api("technician").get(f"{URL}/{out['hire']['id']}").json()["hirer"] == "Gala Ros"


@pytest.mark.time_machine(NOON, tick=False)
def test_hours_that_cannot_be_are_held_and_said(farm, unit):
    told = farm.api("counter").post(URL, {"machine": unit.pk, "hirer": "Gala Ros", "meter": "10000"}).json()
    assert "are held and don't count yet" in told["held"]


@pytest.mark.time_machine(NOON, tick=False)
@pytest.mark.parametrize(
    ("more", "status", "pointers"),
    [
        ({"hirer": "", "fuel": 101}, 400, ["#/fuel", "#/hirer"]),
        ({"machine": 10**9}, 400, ["#/machine"]),
        ({"booking": 10**9}, 400, ["#/booking"]),
        ({"due_back_on": "2026-05-01"}, 422, ["#/due_back_on"]),
        ({"hours_a_day": "25"}, 422, ["#/hours_a_day"]),
        ({"meter": "-1"}, 400, ["#/meter"]),
        ({"shows": "100"}, 400, ["#/shows"]),
    ],
)
def test_what_cannot_go_out_so_is_named(farm, unit, more, status, pointers):
    answer = farm.api("counter").post(URL, {"machine": unit.pk, "hirer": "Gala Ros", **more})
    assert answer.status_code == status, answer.content
    assert sorted(each["pointer"] for each in answer.json()["errors"]) == pointers
    with farm.scope():
        assert not Hire.objects.exists()


@pytest.mark.time_machine(NOON, tick=False)
def test_anothers_booking_is_not_there(farm, stranger, unit):
    with stranger.scope():
        theirs = BookingFactory(machine=stranger.machine(for_hire=True))
    answer = farm.api("counter").post(URL, {"machine": unit.pk, "hirer": "Gala Ros", "booking": theirs.pk})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/booking")
