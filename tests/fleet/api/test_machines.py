"""Machines and their meters over HTTP."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.machines import tag_outs
from fleet.models import Hire, Machine
from tests.factories import FitmentFactory, MachineFactory, MachineTypeFactory, ReadingFactory, YardFactory

URL = "/api/v1/machines"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def fleet(farm):
    digger = MachineTypeFactory(organisation=farm.organisation, category="mini-excavator")
    north = YardFactory(organisation=farm.organisation, zone="America/Chicago")
    make = {"organisation": farm.organisation}
    return {
        "T-1": MachineFactory(tag="T-1", yard=farm.yard, hours=300, **make),
        "T-2": MachineFactory(tag="T-2", yard=farm.yard, hours=100, type=digger, **make),
        "T-3": MachineFactory(tag="T-3", yard=north, hours=200, in_shop_since=NOON, **make),
        "T-4": MachineFactory(tag="T-4", yard=north, hours=400, **make),
    }


def test_the_list_is_filtered_and_ordered(farm, stranger, fleet):
    stranger.machine(tag="T-9")
    with farm.scope():
        tag_outs.place(machine=fleet["T-3"], reason="Brakes", member=farm.manager)
        Hire.objects.create(
            organisation=farm.organisation, machine=fleet["T-4"], hirer="Ash Lane", out_at=NOON, hours_out=1
        )
    client = farm.api("technician")

    def tags(**query):
        return [machine["tag"] for machine in client.get(URL, query).json()["results"]]

    assert tags() == ["T-1", "T-2", "T-3", "T-4"]
    assert tags(tag="t-2") == ["T-2"]
    assert tags(yard=fleet["T-3"].yard_id) == ["T-3", "T-4"]
    assert tags(type=fleet["T-2"].type_id) == tags(category="mini-excavator") == ["T-2"]
    assert tags(ordering="-hours") == ["T-4", "T-1", "T-3", "T-2"]
    assert tags(state="ready") == ["T-1", "T-2"]
    assert tags(state="tagged out") == ["T-3"]  # the gravest state wins over the shop
    assert tags(state="in the shop") == []
    assert tags(state="out on hire") == ["T-4"]
    assert tags(yard=stranger.yard.pk) == []


def test_one_machine(farm, stranger, fleet):
    shown = farm.api("counter").get(f"{URL}/{fleet['T-3'].pk}").json()
    assert (shown["tag"], shown["hours"], shown["state"]) == ("T-3", "200.00", "in the shop")
    assert shown["yard"]["zone"] == "America/Chicago"
    assert stranger.api("owner").get(f"{URL}/{fleet['T-3'].pk}").status_code == 404
    assert farm.api("counter").get(f"{URL}/{10**30}").status_code == 404


def test_the_list_asks_as_many_queries_for_2_machines_as_for_20(farm):
    client = farm.api("manager")

    def queries():
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert client.get(URL).status_code == 200
        return len(asked)

    def more(number):
        for _ in range(number):
            MachineFactory(organisation=farm.organisation)

    more(2)
    client.get(URL)  # the token's use is noted once a minute
    few = queries()
    more(18)
    assert queries() == few


def test_a_meter_is_replaced(farm, stranger, fleet):
    machine = fleet["T-1"]
    ReadingFactory(machine=machine, taken_at=NOON, shows=300)
    url = f"{URL}/{machine.pk}/meters"
    body = {"at": "2026-03-03T10:00:00+01:00", "old_meter": "310", "new_meter": "0", "note": "dead display"}
    assert stranger.api("owner").post(url, body).status_code == 404
    assert stranger.api("owner").get(url).status_code == 404
    for role in ("technician", "counter"):
        assert farm.api(role).post(url, body).status_code == 403
    answer = farm.api("manager").post(url, body)
    assert (answer.status_code, answer.json()["offset"]) == (201, "310.00")
    shown = farm.api("counter").get(url).json()
    assert [meter["began"] for meter in shown] == ["original", "replaced"]
    moments = {datetime.fromisoformat(text) for text in (shown[0]["ended_at"], shown[1]["started_at"])}
    assert moments == {datetime(2026, 3, 3, 9, tzinfo=UTC)}


def test_a_meter_rolls_over(farm, fleet):
    machine = fleet["T-1"]
    ReadingFactory(machine=machine, taken_at=NOON, shows="9995")
    url = f"{URL}/{machine.pk}/meters"
    answer = farm.api("manager").post(url, {"at": "2026-03-03T10:00:00Z", "wraps_at": "10000"})
    assert (answer.status_code, answer.json()["began"]) == (201, "rolled over")


@pytest.mark.parametrize(
    ("change", "status", "pointer"),
    [
        ({"old_meter": "299"}, 422, "#/old_meter"),  # less than the last counted
        ({"at": "2026-03-03T10:00:00"}, 400, "#/at"),
        ({"old_meter": "-1"}, 400, "#/old_meter"),
        ({"new_meter": "none"}, 400, "#/new_meter"),
        ({"wraps_at": "10000"}, 400, "#"),
    ],
)
def test_a_change_that_cannot_be_true_says_where(farm, fleet, change, status, pointer):
    machine = fleet["T-1"]
    ReadingFactory(machine=machine, taken_at=NOON, shows=300)
    body = {"at": "2026-03-03T10:00:00Z", "old_meter": "310", "new_meter": "0"} | change
    answer = farm.api("manager").post(f"{URL}/{machine.pk}/meters", body)
    assert answer.status_code == status
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


@pytest.mark.parametrize("ordering", [",", ",,", ",tag", "tag,"])
@pytest.mark.parametrize("rows", ["machines", "bookings", "tasks-due"])
def test_an_order_with_a_name_left_out_is_no_fault_of_ours(farm, rows, ordering):
    if rows != "machines":
        ordering = ordering.replace("tag", "machine")
    answer = farm.api("manager").get(f"/api/v1/{rows}?ordering={ordering}")
    assert answer.status_code in (200, 400)


def entered(farm, **more):
    with farm.scope():
        kind = MachineTypeFactory(organisation=farm.organisation)
    return {
        "tag": "T-7",
        "type": kind.pk,
        "yard": farm.yard.pk,
        "in_service_on": "2026-03-01",
        **more,
    }


@pytest.mark.time_machine(datetime(2026, 5, 4, 10, tzinfo=UTC), tick=False)
def test_a_machine_is_entered_with_its_first_hours(farm):
    body = entered(
        farm, serial="SB-1", hours_at_start="120.5", price="18900", condition="dust", for_hire=True
    )
    answer = farm.api("manager").post(URL, body)
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["tag"], made["hours"], made["condition"], made["for_hire"]) == (
        "T-7",
        "120.50",
        "dust",
        True,
    )
    with farm.scope():
        machine = Machine.objects.get(pk=made["id"])
        assert (machine.price, machine.readings.get().shows) == (18900, Decimal("120.5"))
    assert farm.api("technician").post(URL, body).status_code == 403


@pytest.mark.parametrize(
    ("more", "status", "pointers"),
    [
        ({"tag": ""}, 400, ["#/tag"]),
        ({"type": 10**9, "yard": 10**9}, 400, ["#/type"]),
        ({"tag": "x" * 31, "colour": "red"}, 400, ["#/colour", "#/tag"]),
        ({"in_service_on": "2027-01-01"}, 422, ["#/in_service_on"]),
        ({"price": "-1"}, 422, ["#/price"]),
        ({"pin": "SHORT"}, 422, ["#/pin"]),
        ({"fitments": ["wings"]}, 400, ["#/fitments"]),
        ({"condition": "mud"}, 400, ["#/condition"]),
        ({"hours_at_start": "-3"}, 400, ["#/hours_at_start"]),
    ],
)
@pytest.mark.time_machine(datetime(2026, 5, 4, 10, tzinfo=UTC), tick=False)
def test_what_a_machine_cannot_be_is_named(farm, more, status, pointers):
    answer = farm.api("owner").post(URL, entered(farm, **more))
    assert answer.status_code == status, answer.content
    assert sorted(each["pointer"] for each in answer.json()["errors"]) == pointers
    with farm.scope():
        assert not Machine.objects.exists()


@pytest.mark.time_machine(datetime(2026, 5, 4, 10, tzinfo=UTC), tick=False)
def test_a_change_leaves_the_rest_as_it_is(farm, stranger):
    with farm.scope():
        cab = FitmentFactory(organisation=farm.organisation, code="cab")
    machine = farm.machine(tag="T-7", serial="SB-1", note="Old.", price=Decimal(9000))
    machine.fitments.add(cab)
    url = f"{URL}/{machine.pk}"
    answer = farm.api("manager").patch(url, {"tag": "T-8"})
    assert (answer.status_code, answer.json()["tag"], answer.json()["fitments"]) == (200, "T-8", ["cab"])
    assert farm.api("manager").patch(url, {"fitments": []}).json()["fitments"] == []
    with farm.scope():
        machine.refresh_from_db()
    assert (machine.serial, machine.note, machine.price) == ("SB-1", "Old.", 9000)
    assert farm.api("manager").patch(url, {"hours": 3}).json()["errors"][0]["pointer"] == "#/hours"
    assert farm.api("technician").patch(url, {"tag": "T-9"}).status_code == 403
    assert stranger.api("owner").patch(url, {"tag": "T-9"}).status_code == 404


@pytest.mark.time_machine(datetime(2026, 5, 4, 10, tzinfo=UTC), tick=False)
def test_retired_and_brought_back(farm):
    machine = farm.machine()
    url = f"{URL}/{machine.pk}"
    assert farm.api("manager").post(f"{url}/retire", {"on": "2026-05-09"}).status_code == 422
    assert farm.api("manager").post(f"{url}/retire", {"on": "2026-05-02"}).json()["state"] == "retired"
    back = farm.api("manager").post(f"{url}/bring-back").json()
    assert (back["state"], back["retired_on"]) == ("ready", None)


def test_makes_and_models(farm, stranger):
    url = "/api/v1/machine-types"
    body = {"maker": "Sollner", "model": "S 20", "category": "generator"}
    assert farm.api("technician").post(url, body).status_code == 403
    made = farm.api("manager").post(url, body)
    assert made.status_code == 201
    twice = farm.api("manager").post(url, body | {"maker": "sollner"})
    assert (twice.status_code, twice.json()["errors"][0]["pointer"]) == (422, "#/model")
    listed = farm.api("technician").get(url, {"maker": "SOLLNER"}).json()["results"]
    assert [each["model"] for each in listed] == ["S 20"]
    assert stranger.api("owner").get(url).json()["count"] == 0


def test_yards_with_their_zones(farm, stranger):
    with farm.scope():
        YardFactory(organisation=farm.organisation, name="Aaa", zone="America/Chicago")
    first, _second = farm.api("technician").get("/api/v1/yards").json()["results"]
    assert (first["name"], first["zone"]) == ("Aaa", "America/Chicago")
    assert len(stranger.api("owner").get("/api/v1/yards").json()["results"]) == 1
