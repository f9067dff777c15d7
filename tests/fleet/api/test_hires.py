"""Hires over the API, with the notes written when a unit went out and came back."""

from datetime import UTC, datetime

from fleet.models import Hire

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
