"""Work orders over the API: planned, moved on, closed and listed; who may."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Hire, TagOut
from servicing import workorders
from servicing.models import WorkOrder
from tests.factories import (
    BookingFactory,
    CheckFactory,
    DutyFactory,
    FaultFactory,
    MemberFactory,
    PartFactory,
    TechnicianFactory,
)
from tests.servicing.api.order_bodies import NOW, URL, closing, state

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_plan_start_hold_resume_close(farm, machine, duty):
    with farm.scope():
        fault = FaultFactory(machine=machine)
        technician = TechnicianFactory(member=farm.technician)
    manager, worker = farm.api("manager"), farm.api("technician")
    asked = {
        "machine": machine.pk,
        "tasks_due": [duty.pk],
        "technician": technician.pk,
        "planned_for": "2026-05-06",
    }
    made = manager.post(URL, asked)
    assert made.status_code == 201
    body = made.json()
    assert (body["number"], body["state"], body["revision"], body["machine_tag"]) == (1, "planned", 1, "T-07")
    assert [line["title"] for line in body["lines"]] == ["Fan belt"]
    assert body["lines"][0]["due_hours"] == "1000.00"

    one = f"{URL}/{body['id']}"
    assert worker.post(f"{one}/start", {"revision": 1}).json()["state"] == "started"
    assert worker.post(f"{one}/hold", {"revision": 2, "reason": "belt ordered"}).json()["state"] == "on hold"
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
    assert manager.post(URL, {"machine": machine.pk, "faults": [fault.pk]}).json()["number"] == 2


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
    [("start", WORKERS), ("hold", WORKERS), ("resume", WORKERS), ("cancel", PLANNERS), ("close", WORKERS)],
)
def test_who_may_move_an_order(farm, order, role, action, allowed):
    answer = farm.api(role).post(f"{URL}/{order.pk}/{action}", {"revision": 99, "reason": "x"})
    # 409 and 400 come after the right was looked at
    assert answer.status_code == ((400 if action == "close" else 409) if role in allowed else 403)


@pytest.mark.parametrize(
    ("role", "status"), [("owner", 201), ("manager", 201), ("technician", 403), ("counter", 403)]
)
def test_who_may_plan(farm, machine, duty, role, status):
    assert farm.api(role).post(URL, {"machine": machine.pk, "tasks_due": [duty.pk]}).status_code == status


@pytest.mark.parametrize("action", ["", "/start", "/hold", "/resume", "/cancel", "/close"])
def test_a_stranger_finds_nothing(farm, stranger, order, action):
    api = stranger.api("owner")
    url = f"{URL}/{order.pk}{action}"
    sent = {"revision": 1, "reason": "x", "hours": "1", "lines": []}
    answer = api.post(url, sent) if action else api.get(url)
    assert answer.status_code == 404
    assert api.get(URL).json()["results"] == []
    assert state(farm, order) == "planned"


@pytest.mark.parametrize("field", ["machine", "tasks_due", "faults", "technician"])
def test_ids_of_another_organisation_are_refused_at_their_field(farm, stranger, machine, duty, field):
    with stranger.scope():
        theirs = DutyFactory(machine__organisation=stranger.organisation)
        ids = {
            "machine": theirs.machine_id,
            "tasks_due": [theirs.pk],
            "faults": [FaultFactory(machine=theirs.machine).pk],
            "technician": TechnicianFactory(member=stranger.technician).pk,
        }
    asked = {"machine": machine.pk, "tasks_due": [duty.pk]} | {field: ids[field]}
    refused = farm.api("manager").post(URL, asked)
    assert refused.status_code == 400
    assert refused.json()["errors"][0]["pointer"].startswith(f"#/{field}")
    with farm.scope():
        assert not WorkOrder.objects.exists()


def test_a_device_may_not(farm, order):
    assert farm.device().get(f"{URL}/{order.pk}").status_code == 403
    assert farm.device().post(f"{URL}/{order.pk}/start", {"revision": 1}).status_code == 403


# ------------------------------------------------------------------ a failed safety check, whatever else


class TestAPlannedDayThatIsPromised:
    def test_the_problem_lists_all_that_is_in_the_way(self, farm, machine, duty):
        booking = BookingFactory(machine=machine, first_on=NOW.date(), last_on=NOW.date())
        with farm.scope():
            hire = Hire.objects.create(
                organisation=farm.organisation, machine=machine, hirer="Vic", out_at=NOW, hours_out=1000
            )
        day = str(NOW.date())
        asked = {"machine": machine.pk, "tasks_due": [duty.pk], "planned_for": day}
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
            "tasks_due": [duty.pk],
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


def test_a_refused_entry_says_which_check_it_is_about(farm, started):
    with farm.scope():
        check = started.lines.get().task.checks.get().pk
    body = closing(farm, started)
    body["lines"][0]["checks"] = []
    answer = farm.api("technician").post(f"{URL}/{started.pk}/close", body)
    assert answer.status_code == 422
    line = body["lines"][0]["line"]
    (lacking,) = [each for each in answer.json()["errors"] if "check" in each["of"]]
    assert (lacking["pointer"], lacking["of"]) == ("#/lines/0/checks", {"line": line, "check": check})
