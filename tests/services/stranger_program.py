"""A stranger's program: with a client generated from the document, from a new machine to a closed order.

    python stranger_program.py ADDRESS TOKEN

Its own code knows the client alone. It says what it did as JSON; nothing of it is run by pytest itself.
"""

import json
import sys
import time
from datetime import UTC, datetime, timedelta

from hourmark_client import AuthenticatedClient
from hourmark_client.api.faults import faults_report
from hourmark_client.api.machine_types import machine_types_list
from hourmark_client.api.machines import machines_enter, machines_list
from hourmark_client.api.orders import orders_close_create, orders_plan, orders_start_create
from hourmark_client.api.readings import readings_take
from hourmark_client.api.tasks_due import tasks_due_list
from hourmark_client.api.technicians import technicians_list
from hourmark_client.api.yards import yards_list
from hourmark_client.models import (
    CheckInRequest,
    CloseRequest,
    FaultInRequest,
    LabourInRequest,
    LineInRequest,
    LineOutcome,
    NewMachineRequest,
    PlanRequest,
    Problem,
    ReadingInRequest,
    ReadingsInRequest,
    RevisionRequest,
    SeverityEnum,
)

PATIENCE = 60.0  # seconds until a worker has said what is due

address, token = sys.argv[1:]
now = datetime.now(UTC)


def taken(answer):
    """The answer, unless it is a refusal."""
    if answer is None or isinstance(answer, Problem):
        raise SystemExit(f"refused: {answer}")
    return answer


def due_on(machine):
    """What is due on the machine, once a worker has said so."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        found = taken(tasks_due_list.sync(client=client, machine=machine.id, overdue=True)).results
        if found:
            return found
        time.sleep(0.5)
    raise SystemExit("nothing fell due")


with AuthenticatedClient(base_url=address, token=token) as client:
    kind = taken(machine_types_list.sync(client=client)).results[0]
    yard = taken(yards_list.sync(client=client)).results[0]
    technician = taken(technicians_list.sync(client=client, working=True)).results[0]
    machine = taken(
        machines_enter.sync(
            client=client,
            body=NewMachineRequest(
                type_=kind.id,
                yard=yard.id,
                tag="T-07",
                in_service_on=(now - timedelta(days=30)).date(),
                hours_at_start="10",
            ),
        )
    )
    receipts = taken(
        readings_take.sync(
            client=client,
            body=ReadingsInRequest(
                readings=[
                    ReadingInRequest(machine=machine.tag, taken_at=now - timedelta(days=2), meter="118.5"),
                    ReadingInRequest(machine=machine.id, taken_at=now - timedelta(days=1), meter="121"),
                ]
            ),
        )
    )
    fault = taken(
        faults_report.sync(
            client=client,
            body=FaultInRequest(machine=machine.id, text="Hose leaks.", severity=SeverityEnum.SOON),
        )
    )
    due = due_on(machine)
    order = taken(
        orders_plan.sync(
            client=client,
            body=PlanRequest(
                machine=machine.id,
                tasks_due=[each.id for each in due],
                faults=[fault.id],
                technician=technician.id,
            ),
        )
    )
    order = taken(
        orders_start_create.sync(order.id, client=client, body=RevisionRequest(revision=order.revision))
    )
    close = CloseRequest(
        revision=order.revision,
        hours="121.5",
        lines=[
            LineInRequest(
                line=line.id,
                outcome=LineOutcome.DONE,
                checks=[CheckInRequest(check=check.id, found="8.0") for check in line.to_check],
            )
            for line in order.lines
        ],
        labour=[LabourInRequest(technician=technician.id, minutes=45)],
    )
    check = order.lines[0].to_check[0].id
    wrong = CloseRequest.from_dict(close.to_dict())
    wrong.lines[0].checks = [CheckInRequest(check=999_999, found="8.0")]
    refused = orders_close_create.sync(order.id, client=client, body=wrong)
    order = taken(orders_close_create.sync(order.id, client=client, body=close))
    listed = taken(machines_list.sync(client=client, tag="t-07")).results
    did = {
        "counted": receipts.counted,
        "due": [each.task.title for each in due],
        "refused": [
            [each.pointer, each.of.to_dict()["check"] == check, each.detail] for each in refused.errors
        ],
        "state": order.state.value,
        "results": [[each.label, each.passes] for line in order.lines for each in line.results],
        "hours": [each.hours for each in listed],
    }
    json.dump(did, sys.stdout)
