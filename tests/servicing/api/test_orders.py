"""Work orders over the API."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image

from fleet.models import Hire, TagOut
from servicing import workorders
from servicing.models import WorkOrder
from tests.factories import (
    BookingFactory,
    CheckFactory,
    DefectFactory,
    DutyFactory,
    IntervalFactory,
    MachineFactory,
    MemberFactory,
    PartFactory,
    ReadingFactory,
    TechnicianFactory,
)

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
URL = "/api/v1/orders"


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def machine(farm):
    machine = MachineFactory(
        organisation=farm.organisation, yard=farm.yard, tag="T-07", hours=Decimal(1000), hours_at=NOW
    )
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=10), shows=Decimal(1000))
    return machine


@pytest.fixture
def duty(machine):
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Fan belt")
    IntervalFactory(task=duty.task)
    CheckFactory(task=duty.task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal("7.62"))
    return duty


@pytest.fixture
def order(farm, machine, duty):
    with farm.scope():
        return workorders.plan(member=farm.manager, machine=machine, duties=[duty])


@pytest.fixture
def started(farm, order):
    with farm.scope():
        return workorders.start(order=order, member=farm.technician, revision=1)


def closing(farm, order, found="7.5", **more):
    with farm.scope():
        line = order.lines.get()
        check = line.task.checks.get().pk
    return {
        "revision": order.revision,
        "hours": "1004.5",
        "lines": [{"line": line.pk, "outcome": "done", "checks": [{"check": check, "found": found, **more}]}],
    }


def state(farm, order):
    with farm.scope():
        return WorkOrder.objects.get(pk=order.pk).state


def test_plan_start_park_resume_close(farm, machine, duty):
    with farm.scope():
        defect = DefectFactory(machine=machine)
        technician = TechnicianFactory(member=farm.technician)
    manager, worker = farm.api("manager"), farm.api("technician")
    asked = {
        "machine": machine.pk,
        "duties": [duty.pk],
        "technician": technician.pk,
        "planned_for": "2026-05-06",
    }
    made = manager.post(URL, asked)
    assert made.status_code == 201
    body = made.json()
    assert (body["number"], body["state"], body["revision"], body["machine_tag"]) == (1, "planned", 1, "T-07")
    assert [line["title"] for line in body["lines"]] == ["Fan belt"]
    assert body["lines"][0]["mark_hours"] == "1000.00"

    one = f"{URL}/{body['id']}"
    assert worker.post(f"{one}/start", {"revision": 1}).json()["state"] == "started"
    assert worker.post(f"{one}/park", {"revision": 2, "reason": "belt ordered"}).json()["state"] == "parked"
    resumed = worker.post(f"{one}/resume", {"revision": 3}).json()
    assert (resumed["state"], resumed["revision"]) == ("started", 4)

    with farm.scope():
        order, part = WorkOrder.objects.get(), PartFactory(organisation=farm.organisation)
        WorkOrder.objects.filter(pk=order.pk).update(started_at=NOW - timedelta(hours=1))
    sent = closing(farm, order, found="0.3", found_unit="in") | {"finished_seconds_ago": 600}
    sent |= {
        "parts": [{"part": part.pk, "quantity": "1"}],
        "labour": [{"technician": technician.pk, "minutes": 40}],
    }
    closed = worker.post(f"{one}/close", sent)
    assert closed.status_code == 200, closed.json()
    body = closed.json()
    assert (body["state"], body["hours_at_close"]) == ("closed", "1004.50")
    assert body["closed_at"] == "2026-05-04T11:50:00+02:00"
    result = body["lines"][0]["results"][0]
    assert (result["found_value"], result["found_unit"], result["passes"]) == ("0.300000", "in", True)
    assert body["parts"] == [{"part": part.pk, "number": part.number, "quantity": "1.00", "unit": "pc"}]
    assert body["labour"] == [{"technician": technician.pk, "minutes": 40}]
    assert manager.post(URL, {"machine": machine.pk, "defects": [defect.pk]}).json()["number"] == 2


def test_an_order_may_wait_for_a_line_for_thirty_days(farm, started):
    worker, thirty_days = farm.api("technician"), 30 * 86400
    with farm.scope():
        WorkOrder.objects.update(started_at=NOW - timedelta(days=31))
    refused = worker.post(
        f"{URL}/{started.pk}/close", closing(farm, started) | {"finished_seconds_ago": thirty_days + 1}
    )
    assert (refused.status_code, state(farm, started)) == (400, "started")
    assert "finished_seconds_ago" in str(refused.json())
    closed = worker.post(
        f"{URL}/{started.pk}/close",
        closing(farm, started) | {"finished_seconds_ago": thirty_days, "hours": "1000"},
    )
    assert closed.status_code == 200, closed.json()
    assert closed.json()["closed_at"] == "2026-04-04T12:00:00+02:00"


def test_stale_and_wrong_state_answer_409_with_the_revision(farm, order):
    worker = farm.api("technician")
    one = f"{URL}/{order.pk}"
    refused = worker.post(f"{one}/resume", {"revision": 1})
    assert (refused.status_code, refused["Content-Type"]) == (409, "application/problem+json")
    assert refused.json() | {"detail": ""} == {
        "type": "urn:hourmark:problem:wrong-state",
        "title": "Wrong state",
        "status": 409,
        "detail": "",
        "revision": 1,
    }
    worker.post(f"{one}/start", {"revision": 1})
    refused = worker.post(f"{one}/start", {"revision": 1})
    assert refused.status_code == 409
    assert (refused.json()["type"], refused.json()["revision"]) == ("urn:hourmark:problem:stale", 2)
    assert "it is started" in refused.json()["detail"]


def test_a_refused_closing_points_at_every_entry(farm, started):
    sent = closing(farm, started, found="9")
    sent["parts"] = [{"part": 10**6, "quantity": "1"}]
    refused = farm.api("technician").post(f"{URL}/{started.pk}/close", sent)
    assert refused.status_code == 422
    body = refused.json()
    assert body["type"] == "urn:hourmark:problem:not-ready"
    assert [error["pointer"] for error in body["errors"]] == [
        "#/parts/0/part",
        "#/lines/0/checks/0/left",
    ]
    assert state(farm, started) == "started"


def test_an_entry_the_body_lacks_is_pointed_at_by_its_list(farm, started):
    sent = closing(farm, started) | {"lines": []}
    refused = farm.api("technician").post(f"{URL}/{started.pk}/close", sent)
    assert [error["pointer"] for error in refused.json()["errors"]] == ["#/lines"]


def test_values_of_the_wrong_kind_are_400(farm, started):
    sent = closing(farm, started) | {"hours": "many"}
    refused = farm.api("technician").post(f"{URL}/{started.pk}/close", sent)
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (400, "#/hours")


def test_a_failed_safety_check_tags_out(farm, machine, duty, started):
    with farm.scope():
        duty.task.checks.update(safety=True)
    sent = closing(farm, started, found="9", left="9")
    assert farm.api("technician").post(f"{URL}/{started.pk}/close", sent).status_code == 200
    with farm.scope():
        assert TagOut.objects.open().get().machine == machine


def test_a_number_may_come_as_a_number(farm, started):
    sent = closing(farm, started, found=7.62)
    assert farm.api("technician").post(f"{URL}/{started.pk}/close", sent).status_code == 200


def test_filters(farm, machine, order, started):
    with farm.scope():
        technician = TechnicianFactory(member=farm.technician)
        other = DutyFactory(machine__organisation=farm.organisation)
        second = workorders.plan(
            member=farm.manager, machine=other.machine, duties=[other], technician=technician
        )
    api = farm.api("counter")

    def found(**asked):
        return [row["id"] for row in api.get(URL, asked).json()["results"]]

    assert sorted(found()) == sorted([order.pk, second.pk])
    assert found(state="started") == [order.pk]
    assert found(state="planned") == [second.pk]
    assert found(machine=machine.pk) == [order.pk]
    assert found(technician=technician.pk) == [second.pk]
    assert api.get(URL, {"state": "lost"}).status_code == 400


def test_the_list_asks_the_same_number_of_queries_however_long_it_is(farm):
    def add(number):
        with farm.scope():
            for _ in range(number):
                duty = DutyFactory(machine__organisation=farm.organisation)
                CheckFactory(task=duty.task)
                technician = TechnicianFactory(member=MemberFactory(organisation=farm.organisation))
                order = workorders.plan(
                    member=farm.manager, machine=duty.machine, duties=[duty], technician=technician
                )
                order.parts.create(
                    organisation=farm.organisation,
                    part=PartFactory(organisation=farm.organisation),
                    quantity=1,
                    unit_cost=1,
                )
                order.labour.create(
                    organisation=farm.organisation, technician=technician, minutes=5, hourly_rate=1
                )

    api = farm.api("manager")
    api.get(URL)  # the token's first use is noted
    counts = []
    for number in (1, 9):
        add(number)
        with CaptureQueriesContext(connection) as queries:
            assert api.get(URL).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]


PLANNERS, WORKERS = {"owner", "manager"}, {"owner", "manager", "technician"}


@pytest.mark.parametrize("role", ["owner", "manager", "technician", "counter"])
@pytest.mark.parametrize(
    ("action", "allowed"),
    [("start", WORKERS), ("park", WORKERS), ("resume", WORKERS), ("withdraw", PLANNERS), ("close", WORKERS)],
)
def test_who_may_move_an_order(farm, order, role, action, allowed):
    answer = farm.api(role).post(f"{URL}/{order.pk}/{action}", {"revision": 99, "reason": "x"})
    # 409 and 400 come after the right was looked at
    assert answer.status_code == ((400 if action == "close" else 409) if role in allowed else 403)


@pytest.mark.parametrize(
    ("role", "status"), [("owner", 201), ("manager", 201), ("technician", 403), ("counter", 403)]
)
def test_who_may_plan(farm, machine, duty, role, status):
    assert farm.api(role).post(URL, {"machine": machine.pk, "duties": [duty.pk]}).status_code == status


@pytest.mark.parametrize("action", ["", "/start", "/park", "/resume", "/withdraw", "/close"])
def test_a_stranger_finds_nothing(farm, stranger, order, action):
    api = stranger.api("owner")
    url = f"{URL}/{order.pk}{action}"
    sent = {"revision": 1, "reason": "x", "hours": "1", "lines": []}
    answer = api.post(url, sent) if action else api.get(url)
    assert answer.status_code == 404
    assert api.get(URL).json()["results"] == []
    assert state(farm, order) == "planned"


@pytest.mark.parametrize("field", ["machine", "duties", "defects", "technician"])
def test_ids_of_another_organisation_are_refused_at_their_field(farm, stranger, machine, duty, field):
    with stranger.scope():
        theirs = DutyFactory(machine__organisation=stranger.organisation)
        ids = {
            "machine": theirs.machine_id,
            "duties": [theirs.pk],
            "defects": [DefectFactory(machine=theirs.machine).pk],
            "technician": TechnicianFactory(member=stranger.technician).pk,
        }
    asked = {"machine": machine.pk, "duties": [duty.pk]} | {field: ids[field]}
    refused = farm.api("manager").post(URL, asked)
    assert refused.status_code == 400
    assert refused.json()["errors"][0]["pointer"].startswith(f"#/{field}")
    with farm.scope():
        assert not WorkOrder.objects.exists()


def test_a_device_may_not(farm, order):
    assert farm.device().get(f"{URL}/{order.pk}").status_code == 403
    assert farm.device().post(f"{URL}/{order.pk}/start", {"revision": 1}).status_code == 403


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


def photo(colour="#775533"):
    file = BytesIO()
    Image.new("RGB", (8, 8), colour).save(file, "JPEG")
    return SimpleUploadedFile("IMG_0001.exe", file.getvalue(), "text/plain")


def test_a_photo_is_kept_once_with_its_line(farm, stranger, started, order):
    with farm.scope():
        line = started.lines.get()
    url = f"{URL}/{started.pk}/lines/{line.pk}/photos"
    client = farm.api("technician")
    first = client.post(url, {"photo": photo()}, format="multipart")
    assert first.status_code == 201
    assert first.json()["url"].endswith(".jpg")
    picture = farm.client("counter").get(first.json()["url"])
    assert b"".join(picture.streaming_content).startswith(b"\xff\xd8"), "a JPEG"
    assert client.post(url, {"photo": photo()}, format="multipart").json() == first.json()
    client.post(url, {"photo": photo("#123456")}, format="multipart")
    assert len(client.get(f"{URL}/{started.pk}").json()["lines"][0]["photos"]) == 2

    refused = client.post(url, {"photo": SimpleUploadedFile("a.jpg", b"no picture")}, format="multipart")
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "#/photo")
    assert farm.api("counter").post(url, {"photo": photo()}, format="multipart").status_code == 403
    assert stranger.api("owner").post(url, {"photo": photo()}, format="multipart").status_code == 404
    other = f"{URL}/{started.pk}/lines/{line.pk + 1}/photos"
    assert client.post(other, {"photo": photo()}, format="multipart").status_code == 404


def test_a_withdrawn_order_takes_no_photo(farm, started):
    with farm.scope():
        line = started.lines.get()
        workorders.withdraw(order=started, member=farm.manager, revision=2, reason="sold")
    url = f"{URL}/{started.pk}/lines/{line.pk}/photos"
    answer = farm.api("technician").post(url, {"photo": photo()}, format="multipart")
    assert (answer.status_code, answer.json()["detail"]) == (409, "Order 1 is withdrawn; it takes no photos.")


# ------------------------------------------------------------------ a failed safety check, whatever else


@pytest.fixture
def safety_check(farm, duty):
    with farm.scope():
        duty.task.checks.update(safety=True)


def open_tag_outs(farm):
    with farm.scope():
        return list(TagOut.objects.open())


def left_without_a_day(body):
    body["lines"][0] |= {"outcome": "left", "reason": "rain"}


@pytest.mark.parametrize("action", ["record", "close"])
def test_what_fails_is_kept_beside_what_is_missing_and_the_new_revision_told(
    farm, started, safety_check, action
):
    body = closing(farm, started, "9")
    left_without_a_day(body)
    answer = farm.api("technician").post(f"{URL}/{started.pk}/{action}", body)
    assert answer.status_code == 422
    assert [each["pointer"] for each in answer.json()["errors"]] == ["#/lines/0/put_off_until"]
    assert answer.json()["revision"] == started.revision + 1
    assert len(open_tag_outs(farm)) == 1
    shown = farm.api("technician").get(f"{URL}/{started.pk}").json()
    assert shown["lines"][0]["results"][0]["found_value"] == "9.000000"
    assert (shown["revision"], len(shown["tagged_out"])) == (started.revision + 1, 1)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda body: body["lines"][0].update(put_off_until="soon"),
        lambda body: body.update(labour=[{"technician": 1, "minutes": "1:75"}]),
        lambda body: body.update(parts="none"),
        lambda body: body.pop("revision"),
        lambda body: body["lines"].append("x"),
        lambda body: body["lines"][0]["checks"][0].update(left="x" * 81),
        lambda body: body["lines"][0]["checks"].append(7),
    ],
)
def test_what_fails_counts_in_a_body_that_cannot_be_read(farm, started, safety_check, spoil):
    body = closing(farm, started, "9")
    spoil(body)
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", body)
    assert answer.status_code == 400
    assert len(open_tag_outs(farm)) == 1
    assert farm.api("technician").get(f"{URL}/{started.pk}").json()["revision"] == started.revision


@pytest.mark.parametrize(
    "body",
    [[], "x", {}, {"lines": 7}, {"lines": [{"line": {}, "checks": [{"check": []}]}, {"line": "9" * 5000}]}],
)
def test_a_body_of_nonsense_tags_nothing_out(farm, started, safety_check, body):
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", body)
    assert answer.status_code == 400
    assert open_tag_outs(farm) == []


@pytest.mark.security
@pytest.mark.parametrize("spoil", [lambda body: None, lambda body: body.update(parts="none")])
def test_nobody_else_tags_a_machine_out_this_way(farm, stranger, started, safety_check, spoil):
    body = closing(farm, started, "9")
    spoil(body)
    path = f"{URL}/{started.pk}/record"
    assert stranger.api("owner").post(path, body).status_code == 404
    assert farm.api("counter").post(path, body).status_code == 403
    assert open_tag_outs(farm) == []


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


class TestAPlannedDayThatIsPromised:
    def test_the_problem_lists_all_that_is_in_the_way(self, farm, machine, duty):
        booking = BookingFactory(machine=machine, first_on=NOW.date(), last_on=NOW.date())
        with farm.scope():
            hire = Hire.objects.create(
                organisation=farm.organisation, machine=machine, hirer="Vic", out_at=NOW, hours_out=1000
            )
        day = str(NOW.date())
        asked = {"machine": machine.pk, "duties": [duty.pk], "planned_for": day}
        refused = farm.api("manager").post("/api/v1/orders", asked, format="json")
        assert (refused.status_code, refused["Content-Type"]) == (409, "application/problem+json")
        body = refused.json()
        assert body["type"] == "urn:hourmark:problem:promised"
        said = [[each[key] for key in ("kind", "id", "first_on", "last_on")] for each in body["conflicts"]]
        assert said == [["hired", hire.pk, day, None], ["booked", booking.pk, day, day]]
        assert all(each["detail"] in body["detail"] for each in body["conflicts"])
        assert body["errors"][0]["pointer"] == "#/override_reason"
        with farm.scope():
            assert not WorkOrder.objects.exists()

    def test_a_reason_is_taken_and_given_back(self, farm, machine, duty):
        BookingFactory(machine=machine, first_on=NOW.date(), last_on=NOW.date())
        asked = {
            "machine": machine.pk,
            "duties": [duty.pk],
            "planned_for": str(NOW.date()),
            "override_reason": "Gala knows",
        }
        made = farm.api("manager").post("/api/v1/orders", asked, format="json")
        assert made.status_code == 201
        [kept] = made.json()["overruled"]
        assert (kept["reason"], kept["by"]) == ("Gala knows", str(farm.manager))
        assert kept["against"][0].startswith("Booked for Gala Ros on ")

    def test_a_reason_too_long_beside_a_bad_day_names_both(self, farm, machine, duty):
        asked = {"machine": machine.pk, "planned_for": "someday", "override_reason": "x" * 501}
        refused = farm.api("manager").post("/api/v1/orders", asked, format="json")
        assert refused.status_code == 400
        pointers = {each["pointer"] for each in refused.json()["errors"]}
        assert pointers == {"#/planned_for", "#/override_reason"}
