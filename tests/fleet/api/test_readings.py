"""Readings over HTTP: outcomes row by row, lists, decisions, and who may."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from fleet.models import Machine, Reading
from tests.factories import ReadingFactory

URL = "/api/v1/readings"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def row(machine, shows, *, days=0.0, **kwargs):
    return {
        "machine": machine,
        "taken_at": (NOON + timedelta(days=days)).isoformat(),
        "meter": shows,
        **kwargs,
    }


def test_a_device_sends_a_batch_and_gets_an_outcome_for_each_row(farm, machine):
    rows = [
        row("T-07", "100", client_id="a"),
        row(machine.pk, 124.5, days=1, client_id="b"),  # a day has 24 hours
        row("T-99", 5, client_id="c"),
        row("T-07", 130, days=7, client_id=4),
    ]
    answer = farm.device().post(URL, {"readings": rows})
    assert answer.status_code == 200
    told = answer.json()
    assert [one["outcome"] for one in told["readings"]] == ["counted", "held", "refused", "counted"]
    assert [told[state] for state in ("counted", "held", "duplicate", "refused")] == [2, 1, 0, 1]
    assert [one["client_id"] for one in told["readings"]] == ["a", "b", "c", "4"]
    assert [one["machine_hours"] for one in told["readings"]] == ["130.00", "130.00", None, "130.00"]
    assert told["readings"][1]["code"] == "too_fast"
    assert "only 24.0\u00a0h between them" in told["readings"][1]["reason"]
    assert told["readings"][2]["code"] == "unknown_machine"
    with farm.scope():
        kept = {str(pk): sender for pk, sender in Reading.objects.values_list("pk", "sender")}
    assert len(kept) == 3
    assert all(sender.startswith("token ") for sender in kept.values())


def test_sending_the_same_batch_again_changes_nothing(farm, machine):
    client = farm.device()
    rows = [
        row("T-07", 100, client_id="a"),
        row("T-07", 124.5, days=1, client_id="b"),
        row("T-07", 130, days=7),
    ]
    first = client.post(URL, rows).json()["readings"]
    again = client.post(URL, rows).json()["readings"]
    assert [one["outcome"] for one in again] == ["duplicate"] * 3
    assert [one["reading"] for one in again] == [one["reading"] for one in first]
    with farm.scope():
        assert Reading.objects.count() == 3
        assert Machine.objects.get().hours == 130


def test_one_reading_by_itself(farm, machine):
    told = farm.api("technician").post(URL, row("T-07", "12.5", note="after mowing")).json()
    assert told["readings"][0]["outcome"] == "counted"
    with farm.scope():
        kept = Reading.objects.get()
    assert (kept.taken_by, kept.note, kept.source) == (farm.technician, "after mowing", "api")


@pytest.mark.parametrize("body", [{}, {"readings": 3}, {"readings": None}, 7, "T-07", {"meter": 3}, None])
def test_a_malformed_body_is_a_problem(farm, body):
    answer = farm.device().post(URL, body)
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")


@pytest.mark.parametrize("text", ["{", '{"readings": [NaN]}', '[{"meter": ' + "9" * 5000 + "}]", "\xff"])
def test_a_body_that_is_not_json_is_a_problem(farm, text):
    answer = farm.device().post(URL, text.encode("latin-1"), content_type="application/json")
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")


def test_a_body_nested_too_deep_is_a_problem(farm):
    answer = farm.device().post(URL, b"[" * 100_000, content_type="application/json")
    assert (answer.status_code, answer["Content-Type"]) == (413, "application/problem+json")


def test_rows_of_any_shape_are_refused_one_by_one(farm, machine):
    rows = [
        5,
        None,
        [],
        {},
        row("T-07", [1]),
        row({"tag": "T-07"}, 1),
        row("T-07", True),
        row("T-07", "1" * 400),
        row("T-07", 1, client_id="x" * 81),
        row("T-07", 1, client_id="\x00"),
        row("\ud800", 1, client_id="\ud800"),
        {"machine": "T-07", "meter": 1, "taken_at": "2026-03-01T12:00:00"},
        {"machine": "T-07", "meter": 1, "taken_at": "0001-01-01T00:00:00+14:00"},
        {"machine": "T-07", "meter": 1, "taken_at": 20260301},
        row(True, 1),
        row(10**30, 1),
        row("T-07", 20),
    ]
    answer = farm.device().post(URL, json.dumps(rows), content_type="application/json")
    told = answer.json()["readings"]
    assert [one["outcome"] for one in told] == ["refused"] * 16 + ["counted"]
    assert all(one["reason"] for one in told[:-1])
    assert told[11]["code"] == "no_time_zone"


def test_more_than_5000_rows_are_too_many(farm, machine):
    answer = farm.device().post(URL, [{}] * 5001)
    assert (answer.status_code, answer.json()["title"]) == (413, "Content Too Large")  # RFC 9110, 15.5.14
    assert farm.device().post(URL, [{}] * 5000).json()["refused"] == 5000


def test_a_device_may_send_and_nothing_else(farm, machine):
    device = farm.device()
    for url in (URL, f"{URL}/1", "/api/v1/machines", f"/api/v1/machines/{machine.pk}/meters"):
        assert device.get(url).status_code == 403


def test_the_list_is_filtered_and_paged(farm, stranger, machine):
    other = farm.machine()
    for day in range(3):
        ReadingFactory(machine=machine, taken_at=NOON + timedelta(days=day), shows=day)
    ReadingFactory(machine=other, state="held", reason="Too fast.", taken_at=NOON)
    ReadingFactory(machine=stranger.machine())
    client = farm.api("counter")

    def shown(**query):
        return [(one["machine"], one["meter"]) for one in client.get(URL, query).json()["results"]]

    assert client.get(URL).json()["count"] == 4
    assert shown(machine=machine.pk) == [(machine.pk, f"{day}.00") for day in (2, 1, 0)]
    assert shown(state="held") == [(other.pk, "10.00")]
    after, before = NOON + timedelta(days=1), NOON + timedelta(days=2)
    assert shown(taken_after=after.isoformat(), taken_before=before.isoformat()) == [(machine.pk, "1.00")]
    assert len(shown(page_size=2, page=2)) == 2


def test_one_reading_is_shown_within_the_organisation_alone(farm, stranger, machine):
    reading = ReadingFactory(machine=machine)
    assert farm.api("technician").get(f"{URL}/{reading.pk}").json()["machine_tag"] == "T-07"
    assert stranger.api("owner").get(f"{URL}/{reading.pk}").status_code == 404
    for verb in ("count", "discard", "correct"):
        body = {"note": "no", "meter": "3"}
        assert stranger.api("owner").post(f"{URL}/{reading.pk}/{verb}", body).status_code == 404
