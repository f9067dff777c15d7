"""Programs written for the version before are still understood, in each request that was renamed.

With the next version this file goes, and `fleet.api.former_names`.
"""

import json
from datetime import UTC, datetime

import pytest
from drf_spectacular.generators import SchemaGenerator

from fleet import readings
from fleet.models import Reading

URL = "/api/v1/readings"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
AT = NOON.isoformat()


def posted(client, text, kind):
    return client.generic("POST", URL, text, content_type=kind)


def kept(farm):
    with farm.scope():
        return [str(reading.shows) for reading in Reading.objects.order_by("taken_at")]


@pytest.mark.parametrize("name", ["meter", "shows"])
@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("application/json", f'{{"readings": [{{"machine": "T-07", "taken_at": "{AT}", "NAME": 12.5}}]}}'),
        ("application/json", f'[{{"machine": "T-07", "taken_at": "{AT}", "NAME": "12.5"}}]'),
        ("application/json", f'{{"machine": "T-07", "taken_at": "{AT}", "NAME": 12.5}}'),
        ("application/x-ndjson", f'{{"machine": "T-07", "taken_at": "{AT}", "NAME": 12.5}}\n'),
        ("text/csv", f"machine, NAME ,taken_at\nT-07,12.5,{AT}\n"),
    ],
    ids=["batch", "list", "one", "lines", "table"],
)
def test_hours_come_in_by_either_name(farm, machine, kind, text, name):
    answer = posted(farm.device(), text.replace("NAME", name), kind)
    assert (answer.status_code, answer.json()["counted"]) == (200, 1)
    assert kept(farm) == ["12.50"]


@pytest.mark.parametrize("kind", ["application/json", "application/x-ndjson"])
def test_a_row_with_both_names_is_refused_at_its_place_and_the_others_count(farm, machine, kind):
    rows = [
        {"machine": "T-07", "taken_at": AT, "meter": 10},
        {"machine": "T-07", "taken_at": AT, "meter": 11, "shows": 11, "client_id": "b"},
        {"machine": "T-07", "taken_at": "2026-03-02T12:00:00Z", "shows": 12},
    ]
    text = json.dumps(rows) if kind == "application/json" else "\n".join(map(json.dumps, rows))
    told = posted(farm.device(), text, kind).json()["readings"]
    assert [one["outcome"] for one in told] == ["counted", "refused", "counted"]
    assert told[1]["reason"] == "`shows` is the former name of `meter`; send one of them."
    assert (told[1]["code"], told[1]["client_id"]) == ("unreadable_hours", "b")
    assert kept(farm) == ["10.00", "12.00"]


def test_a_table_with_both_columns_is_refused_as_a_whole(farm, machine):
    answer = posted(farm.device(), f"machine,taken_at,meter,shows\nT-07,{AT},1,1\n", "text/csv")
    assert answer.status_code == 400
    (error,) = answer.json()["errors"]
    assert error["line"] == 1
    assert "shows is the former name of meter" in error["detail"]
    assert kept(farm) == []


@pytest.fixture
def held(farm, machine):
    rows = [readings.Submitted(machine.pk, NOON, 100), readings.Submitted(machine.pk, NOON, 1000)]
    return readings.take(organisation=farm.organisation, rows=rows, source="page", sender="page")[1].reading


def test_the_former_addresses_answer_as_the_new_ones(farm, held):
    client, address = farm.api("manager"), f"{URL}/{held.pk}"
    assert client.post(f"{address}/strike", {"note": "Typed twice"}).json()["state"] == "discarded"
    assert client.post(f"{address}/take-back", {}).json()["state"] == "held"
    first, second = client.get(f"{address}/decisions").json()
    assert (first["kind"], first["became"]) == ("discarded", "discarded")
    assert (second["kind"], second["undoes"], "takes_back" in second) == ("undone", first["id"], False)


def test_the_document_leaves_the_former_addresses_out():
    paths = SchemaGenerator().get_schema(public=True)["paths"]
    of_one = {path.rpartition("/")[2] for path in paths if path.startswith(f"{URL}/{{id}}/")}
    assert of_one == {"case", "decisions", "count", "discard", "correct", "swap", "undo"}


@pytest.mark.parametrize(
    ("state", "found"), [("discarded", 1), ("struck", 1), ("held", 0), ("counted", 1), ("", 2)]
)
def test_the_list_is_filtered_by_either_state(farm, held, state, found):
    client = farm.api("manager")
    client.post(f"{URL}/{held.pk}/discard", {"note": "Typed twice"})
    answer = client.get(URL, {"state": state})
    assert (answer.status_code, answer.json()["count"]) == (200, found)


def test_the_list_refuses_a_state_that_never_was(farm):
    answer = farm.api("manager").get(URL, {"state": "mislaid"})
    assert (answer.status_code, answer.json()["errors"][0]["parameter"]) == (400, "state")


@pytest.mark.parametrize("name", ["meter", "shows"])
def test_a_correction_takes_either_name_and_its_refusal_says_the_new_one(farm, held, name):
    client, address = farm.api("manager"), f"{URL}/{held.pk}/correct"
    refused = client.post(address, {name: "2000"})
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "#/meter")
    made = client.post(address, {name: "101", "taken_at": "2026-03-02T12:00:00Z"})
    assert (made.status_code, made.json()["meter"]) == (201, "101.00")
    assert "shows" not in made.json()


def test_a_correction_with_both_names_is_refused_at_the_former_one(farm, held):
    answer = farm.api("manager").post(f"{URL}/{held.pk}/correct", {"meter": "101", "shows": "101"})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/shows")


@pytest.mark.parametrize(
    ("figures", "status"),
    [
        ({"old_meter": "310", "new_meter": "0"}, 201),
        ({"old_shows": "310", "new_shows": "0"}, 201),
        ({"old_shows": "310", "new_meter": "0"}, 201),
        ({"old_meter": "310", "old_shows": "310", "new_meter": "0"}, 400),
    ],
)
def test_a_new_meter_is_recorded_by_either_name(farm, machine, figures, status):
    address = f"/api/v1/machines/{machine.pk}/meters"
    answer = farm.api("manager").post(address, {"at": AT, **figures})
    assert answer.status_code == status
    if status == 201:
        assert (answer.json()["meter_at_start"], "shows_at_start" in answer.json()) == ("0.00", False)
    else:
        assert answer.json()["errors"][0]["pointer"] == "#/old_shows"


def test_a_meters_figure_that_cant_be_is_refused_under_its_new_name(farm, machine):
    posted(farm.device(), json.dumps({"machine": "T-07", "taken_at": AT, "meter": 300}), "application/json")
    body = {"at": "2026-03-02T12:00:00Z", "old_shows": "299", "new_shows": "0"}
    answer = farm.api("manager").post(f"/api/v1/machines/{machine.pk}/meters", body)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#/old_meter")
