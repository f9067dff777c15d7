"""Decisions about readings over HTTP: what may lie behind one, what was decided, and how it is undone."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet import readings
from fleet.models import Machine, Reading
from tests.factories import ReadingFactory

URL = "/api/v1/readings"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def held(farm, machine):
    rows = [readings.Submitted(machine.pk, NOON, 100), readings.Submitted(machine.pk, NOON, 1000)]
    return readings.take(organisation=farm.organisation, rows=rows, source="page", sender="page")[1].reading


def test_a_held_reading_is_counted_once(farm, held):
    client = farm.api("counter")
    answer = client.post(f"{URL}/{held.pk}/count", {"note": "Looked again"})
    assert (answer.status_code, answer.json()["state"]) == (200, "counted")
    again = client.post(f"{URL}/{held.pk}/count", {})
    assert (again.status_code, again["Content-Type"]) == (409, "application/problem+json")
    assert again.json()["type"] == "urn:hourmark:problem:wrong-state"


def test_a_held_reading_is_discarded_with_a_reason(farm, held):
    client = farm.api("manager")
    answer = client.post(f"{URL}/{held.pk}/discard", {})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/note")
    answer = client.post(f"{URL}/{held.pk}/discard", {"note": "Typed twice"})
    assert (answer.json()["state"], answer.json()["decision"]) == ("discarded", "Typed twice")


def test_a_held_reading_is_corrected_by_a_new_one(farm, held, machine):
    client = farm.api("manager")
    answer = client.post(f"{URL}/{held.pk}/correct", {"meter": "2000"})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#/meter")
    body = {"meter": "101.5", "taken_at": (NOON + timedelta(days=1)).isoformat()}
    answer = client.post(f"{URL}/{held.pk}/correct", body)
    assert (answer.status_code, answer.json()["corrects"]) == (201, held.pk)
    with farm.scope():
        assert Machine.objects.get(pk=machine.pk).hours == 101.5
        assert Reading.objects.get(pk=held.pk).state == "discarded"


@pytest.mark.parametrize(
    ("role", "status"), [("owner", 200), ("manager", 200), ("counter", 200), ("technician", 403)]
)
def test_deciding_takes_the_right(farm, held, role, status):
    assert farm.api(role).post(f"{URL}/{held.pk}/count", {}).status_code == status


def test_what_was_decided_is_listed_with_names_and_undone(farm, held):
    client = farm.api("manager")
    assert client.get(f"{URL}/{held.pk}/decisions").json() == []
    client.post(f"{URL}/{held.pk}/discard", {"note": "Typed twice"})
    answer = client.post(f"{URL}/{held.pk}/undo", {"note": "It was another"})
    assert (answer.status_code, answer.json()["state"], answer.json()["decision"]) == (200, "held", "")
    first, second = farm.api("technician").get(f"{URL}/{held.pk}/decisions").json()
    assert (first["kind"], first["was"], first["became"]) == ("discarded", "held", "discarded")
    assert (first["note"], first["by"], first["by_name"]) == (
        "Typed twice",
        farm.manager.pk,
        str(farm.manager),
    )
    assert (second["kind"], second["became"], second["undoes"]) == ("undone", "held", first["id"])
    again = client.post(f"{URL}/{held.pk}/undo", {})
    assert (again.status_code, again.json()["type"]) == (409, "urn:hourmark:problem:wrong-state")


def test_what_may_lie_behind_a_held_reading_is_told(farm, held):
    client = farm.api("manager")
    case = client.get(f"{URL}/{held.pk}/case").json()
    assert case == {"suggestion": "100.00", "suggested_at": None, "swap": None, "change": None}
    client.post(f"{URL}/{held.pk}/count", {})
    answer = client.get(f"{URL}/{held.pk}/case")
    assert (answer.status_code, answer.json()["detail"]) == (
        409,
        "This reading is counted; there is nothing to decide.",
    )
    assert farm.api("technician").get(f"{URL}/{held.pk}/case").status_code == 403


def test_a_new_meter_is_proposed_and_can_be_recorded_as_proposed(farm, machine):
    """Fall to a few hours that then run on: the meter was replaced and nobody said so."""
    rows = [
        readings.Submitted(machine.pk, NOON + timedelta(days=day), shows)
        for day, shows in [(0, 1200), (7, 1240), (14, 20), (21, 60), (28, 100)]
    ]
    told = readings.take(organisation=farm.organisation, rows=rows, source="page", sender="page")
    assert [receipt.state for receipt in told] == ["counted", "counted", "held", "held", "held"]
    low = [receipt.reading.pk for receipt in told[2:]]
    client = farm.api("manager")
    change = client.get(f"{URL}/{low[0]}/case").json()["change"]
    assert (change.pop("since"), change.pop("wraps_at")) == (low, None)
    assert client.post(f"/api/v1/machines/{machine.pk}/meters", change).status_code == 201
    assert {client.get(f"{URL}/{pk}").json()["state"] for pk in low} == {"counted"}


def hours_by_tag(farm):
    with farm.scope():
        return dict(Machine.objects.values_list("tag", "hours"))


def test_a_swap_is_proposed_carried_out_and_undone_as_a_whole(farm, pair):
    client, (one, two) = farm.api("counter"), pair
    assert client.get(f"{URL}/{one.pk}/case").json()["swap"] == two.pk
    answer = client.post(f"{URL}/{one.pk}/swap", {"other": two.pk, "note": "Mixed up"})
    assert answer.status_code == 201
    told = [(made["machine_tag"], made["meter"], made["state"], made["note"]) for made in answer.json()]
    assert told == [("T-07", "1206.00", "counted", "Mixed up"), ("T-08", "3009.00", "counted", "Mixed up")]
    assert hours_by_tag(farm) == {"T-07": 1206, "T-08": 3009}
    answer = client.post(f"{URL}/{two.pk}/undo", {})
    assert (answer.status_code, answer.json()["state"]) == (200, "held")
    assert client.get(f"{URL}/{one.pk}").json()["state"] == "held"
    assert hours_by_tag(farm) == {"T-07": 1200, "T-08": 3000}


def test_a_swap_that_cannot_be_is_refused_with_the_reason(farm, stranger, machine, pair):
    client, address = farm.api("manager"), f"{URL}/{pair[0].pk}/swap"
    with farm.scope():
        earlier = Reading.objects.get(machine=machine, shows=1200)
    with stranger.scope():
        elsewhere = ReadingFactory(machine__organisation=stranger.organisation)
    for other, status in [(None, 400), ("x", 400), (-1, 400), (10**30, 400), (elsewhere.pk, 400)]:
        answer = client.post(address, {"other": other} if other is not None else {})
        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (status, "#/other")
    same = client.post(address, {"other": earlier.pk})
    assert (same.status_code, same.json()["detail"]) == (
        422,
        "These are readings of one machine; there is nothing to swap.",
    )
    assert hours_by_tag(farm) == {"T-07": 1200, "T-08": 3000}
