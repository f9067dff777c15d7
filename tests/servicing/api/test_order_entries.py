"""Entries of an order over the API: recorded a step at a time, and compared with what others recorded."""

import pytest

from fleet.models import TagOut
from tests.factories import TechnicianFactory
from tests.servicing.api.order_bodies import NOW, URL, closing

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ a step at a time


def test_what_is_recorded_comes_back_and_a_failed_safety_check_tags_out_at_once(farm, duty, started):
    with farm.scope():
        duty.task.checks.update(safety=True)
    body = closing(farm, started, found="7.63")
    del body["hours"]
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", body)
    assert answer.status_code == 200
    shown = answer.json()
    assert (shown["state"], shown["revision"]) == ("started", 3)
    result = shown["lines"][0]["results"][0]
    assert (result["found_value"], result["passes"]) == ("7.630000", False)
    assert result["recorded_by"] == str(farm.technician)
    assert shown["tagged_out"] == ["Order 1, check failed: Belt deflection: 7.63 mm (limit 7 to 7.62 mm)"]
    with farm.scope():
        assert TagOut.objects.open().count() == 1
    stale = farm.api("manager").post(f"{URL}/{started.pk}/record", body)
    assert (stale.status_code, stale.json()["revision"]) == (409, 3)


def test_409_names_each_entry_that_is_recorded_otherwise_by_whom_and_when(farm, started):
    worker, manager = farm.api("technician"), farm.api("manager")
    body = closing(farm, started, found="7.1", found_unit="mm", left="7.3")
    body["lines"][0]["note"] = "cold"
    del body["hours"]
    assert manager.post(f"{URL}/{started.pk}/record", body).status_code == 200

    mine = closing(farm, started, found="7,10")
    mine["lines"][0] |= {"outcome": "referred", "reason": "to the dealer"}
    refused = worker.post(f"{URL}/{started.pk}/close", mine)
    assert (refused.status_code, refused.json()["revision"]) == (409, 3)
    by = {"recorded_by": str(farm.manager), "recorded_at": "2026-05-04T10:00:00Z"}
    line, check = "#/lines/0", "#/lines/0/checks/0"
    assert refused.json()["differing"] == [
        {"pointer": f"{line}/outcome", "sent": "referred", "recorded": "done", **by},
        {"pointer": f"{line}/reason", "sent": "to the dealer", "recorded": "", **by},
        {"pointer": f"{line}/note", "sent": "", "recorded": "cold", **by},
        {"pointer": f"{check}/left", "sent": "", "recorded": "7.3 mm", **by},
    ], "7,10 and 7.1 mm are the same"

    agreed = worker.post(f"{URL}/{started.pk}/record", body)
    assert agreed.status_code == 409
    assert "differing" not in agreed.json()


def test_409_points_at_the_list_for_what_the_body_lacks(farm, started):
    worker = farm.api("technician")
    body = closing(farm, started)
    del body["hours"]
    worker.post(f"{URL}/{started.pk}/record", body)
    refused = worker.post(f"{URL}/{started.pk}/record", {"revision": 2, "lines": []})
    assert refused.status_code == 409
    assert {(each["pointer"], each["recorded"]) for each in refused.json()["differing"]} == {
        ("#/lines", "done"),
        ("#/lines", "7.5 mm"),
    }


# ------------------------------------------------------------------ a failed safety check, whatever else


@pytest.mark.parametrize(("sent", "kept"), [(75, 75), ("75", 75), ("1:15", 75)])
def test_minutes_by_the_clock(farm, started, sent, kept):
    with farm.scope():
        person = TechnicianFactory(member=farm.technician)
    body = closing(farm, started) | {"labour": [{"technician": person.pk, "minutes": sent}]}
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", body)
    assert answer.json()["labour"] == [{"technician": person.pk, "minutes": kept}]


@pytest.mark.parametrize("sent", [True, 7.5, None, "abc", "-5"])
def test_minutes_that_are_none(farm, started, sent):
    with farm.scope():
        person = TechnicianFactory(member=farm.technician)
    body = closing(farm, started) | {"labour": [{"technician": person.pk, "minutes": sent}]}
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", body)
    assert answer.status_code in (400, 422)
    assert "/labour/0/minutes" in answer.json()["errors"][0]["pointer"]
