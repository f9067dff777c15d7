"""Tasks due and service programs over HTTP."""

from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from servicing.programs.file_format import parse
from servicing.programs.load import load_program
from tests.factories import (
    DutyFactory,
    LineFactory,
    MachineFactory,
    TaskFactory,
    WorkOrderFactory,
    YardFactory,
)

URL = "/api/v1/tasks-due"
NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
FIXTURES = Path(__file__).parents[3] / "fixtures" / "programs"
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def make_duty(farm, *, yard=None, hours=0, likely=None, **kwargs):
    machine = kwargs.pop("machine", None) or MachineFactory(
        organisation=farm.organisation, yard=yard or farm.yard, hours=Decimal(hours)
    )
    days = dict.fromkeys(("early", "likely", "late"), likely)
    return DutyFactory(machine=machine, **days, **kwargs)


@pytest.fixture
def duties(farm, stranger):
    north = YardFactory(organisation=farm.organisation, name="North")
    make_duty(stranger)
    found = {
        "soon": make_duty(farm, likely=date(2026, 6, 10)),
        "later": make_duty(farm, likely=date(2026, 9, 1), yard=north),
        "overdue": make_duty(farm, likely=date(2026, 5, 20), hours=101),
        "never": make_duty(farm),
    }
    make_duty(farm, active=False)
    make_duty(farm, machine=MachineFactory(organisation=farm.organisation, retired_on=date(2026, 5, 1)))
    order = WorkOrderFactory(machine=found["soon"].machine, number=7, planned_for=date(2026, 6, 9))
    LineFactory(order=order, duty=found["soon"], title="Oil")
    return found


def test_the_list_is_filtered_and_ordered(farm, duties):
    client = farm.api("technician")
    names = {duty.pk: name for name, duty in duties.items()}

    def listed(**query):
        answer = client.get(URL, query)
        assert answer.status_code == 200, answer.json()
        return [names[duty["id"]] for duty in answer.json()["results"]]

    assert listed() == ["overdue", "soon", "later", "never"]
    assert listed(overdue="true") == ["overdue"]
    assert listed(overdue="false") == ["soon", "later", "never"]
    assert listed(machine=duties["later"].machine_id) == ["later"]
    assert listed(yard=duties["later"].machine.yard_id) == ["later"]
    assert listed(type=duties["soon"].machine.type_id) == ["soon"]
    assert listed(task=duties["soon"].task.code) == ["soon"]
    assert listed(likely_before="2026-06-10") == ["overdue"]
    assert listed(likely_before="2026-06-11") == ["overdue", "soon"]
    assert listed(unassigned="true") == ["overdue", "later", "never"]
    assert listed(unassigned="false") == ["soon"]
    assert [name for name in listed(ordering="-likely") if name != "never"] == ["later", "soon", "overdue"]


def test_a_wrong_filter_value_is_a_problem_that_names_it(farm, duties):
    answer = farm.api("manager").get(URL, {"likely_before": "soon"})
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")
    assert answer.json()["errors"][0]["parameter"] == "likely_before"


def test_one_duty(farm, stranger, duties):
    duty = duties["soon"]
    shown = farm.api("counter").get(f"{URL}/{duty.pk}").json()
    assert shown["machine"] == {"id": duty.machine_id, "tag": duty.machine.tag, "hours": "0.00"}
    assert shown["task"]["title"] == duty.task.title
    assert (shown["due_hours"], shown["likely"], shown["overdue"]) == ("100.00", "2026-06-10", False)
    assert (shown["order"]["number"], shown["order"]["planned_for"]) == (7, "2026-06-09")
    overdue = farm.api("counter").get(f"{URL}/{duties['overdue'].pk}").json()
    assert (overdue["overdue"], overdue["order"]) == (True, None)
    assert stranger.api("owner").get(f"{URL}/{duty.pk}").status_code == 404


def test_duties_are_read_only_and_closed_to_devices(farm, duties):
    assert farm.api("owner").post(URL, {}).status_code == 405
    assert farm.api("owner").delete(f"{URL}/{duties['soon'].pk}").status_code == 405
    assert farm.device().get(URL).status_code == 403


def queries_for(client, url):
    client.get(url)  # the token's use is noted once a minute
    with CaptureQueriesContext(connection) as asked:
        assert client.get(url).status_code == 200
    return len(asked)


def test_the_list_asks_as_many_queries_for_2_duties_as_for_20(farm):
    client = farm.api("manager")

    def more(number):
        for _ in range(number):
            duty = make_duty(farm, likely=date(2026, 6, 10))
            LineFactory(order=WorkOrderFactory(machine=duty.machine), duty=duty)

    more(2)
    few = queries_for(client, URL)
    more(18)
    assert queries_for(client, URL) == few


def load(house, name="generator"):
    document = parse((FIXTURES / f"{name}.yaml").read_bytes())
    with house.scope():
        return load_program(organisation=house.organisation, document=document), document


def test_programs_with_their_tasks(farm, stranger):
    version, document = load(farm)
    load(stranger, "skid_steer")
    client = farm.api("technician")

    (listed,) = client.get("/api/v1/programs").json()["results"]
    assert (listed["id"], listed["code"], listed["version"]) == (version.program_id, document["program"], 1)
    assert listed["machine_type"]["maker"] == document["maker"]
    assert "tasks" not in listed

    shown = client.get(f"/api/v1/programs/{version.program_id}").json()
    assert [task["code"] for task in shown["tasks"]] == [task["code"] for task in document["tasks"]]
    for told, written in zip(shown["tasks"], document["tasks"], strict=True):
        assert told["steps"] == written["steps"]
        assert len(told["intervals"]) == len(written["intervals"])
        assert [check["code"] for check in told["checks"]] == [
            check["code"] for check in written.get("checks", [])
        ]
        assert sorted(supply["number"] for supply in told["supplies"]) == sorted(
            supply["number"] for supply in written.get("supplies", [])
        )
    assert stranger.api("owner").get(f"/api/v1/programs/{version.program_id}").status_code == 404


def test_a_program_asks_as_many_queries_with_more_tasks(farm):
    version, _ = load(farm)
    client = farm.api("technician")
    url = f"/api/v1/programs/{version.program_id}"
    few = queries_for(client, url)
    for _ in range(10):
        TaskFactory(version=version)
    assert queries_for(client, url) == few
