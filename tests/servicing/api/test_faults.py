"""Faults over the API: reported by anybody, judged again by who plans the work."""

from datetime import UTC, datetime

import pytest

from servicing.models import Fault
from tests.factories import FaultFactory

URL = "/api/v1/faults"


def test_reported_and_listed(farm, stranger):
    machine = farm.machine(tag="T-07")
    body = {"machine": machine.pk, "text": "Hose leaks.", "severity": "stops"}
    answer = farm.api("technician").post(URL, body)
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["machine_tag"], made["severity"], made["found_at"]) == ("T-07", "stops", "field")
    assert (made["reported_by"], made["photo"], made["order"], made["fixed_at"]) == (
        str(farm.technician), "", None, None,
    )  # fmt: skip
    listed = farm.api("counter").get(URL, {"machine": machine.pk, "open": "true", "severity": "stops"}).json()
    assert [each["id"] for each in listed["results"]] == [made["id"]]
    assert farm.api("counter").get(URL, {"open": "false"}).json()["count"] == 0
    assert farm.api("counter").get(f"{URL}/{made['id']}").json()["text"] == "Hose leaks."
    assert stranger.api("owner").get(URL).json()["count"] == 0
    assert stranger.api("owner").post(URL, body).json()["errors"][0]["pointer"] == "#/machine"


@pytest.mark.parametrize(
    ("more", "pointers"),
    [
        ({"text": " "}, ["#/text"]),
        ({"severity": "awful", "text": ""}, ["#/severity", "#/text"]),
        ({"machine": "T-07"}, ["#/machine"]),
        ({"photo": "x"}, ["#/photo"]),
    ],
)
def test_what_is_wrong_is_named(farm, more, pointers):
    body = {"machine": farm.machine().pk, "text": "Hose leaks.", "severity": "soon", **more}
    answer = farm.api("owner").post(URL, body)
    assert answer.status_code == 400
    assert sorted(each["pointer"] for each in answer.json()["errors"]) == pointers


@pytest.mark.time_machine(datetime(2026, 5, 4, 10, tzinfo=UTC), tick=False)
def test_judged_again_with_who_and_why(farm, stranger):
    with farm.scope():
        fault = FaultFactory(machine=farm.machine(), text="Hose leaks.", severity="stops")
    url, body = f"{URL}/{fault.pk}/judge", {"severity": "note", "reason": "Only sweats."}
    assert farm.api("technician").post(url, body).status_code == 403
    assert stranger.api("owner").post(url, body).status_code == 404
    told = farm.api("manager").post(url, body).json()
    assert told["severity"] == "note"
    assert told["text"].splitlines() == [
        "Hose leaks.",
        f"Can wait for the next service, says {farm.manager} on 4 May 2026: Only sweats.",
    ]
    lacking = farm.api("manager").post(url, {"severity": "soon"})
    assert [each["pointer"] for each in lacking.json()["errors"]] == ["#/reason"]
    with farm.scope():
        Fault.objects.update(fixed_at=datetime(2026, 5, 3, tzinfo=UTC))
    assert farm.api("manager").post(url, body).status_code == 409
