"""What is asked: what was due before a machine came under its program."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from servicing.last_done.asked import State, open_cells, sheets
from servicing.models import LastDone, Line
from tests.factories import DutyFactory, LineFactory, WorkOrderFactory
from tests.servicing.duties.program_machines import NOW

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def states(machine):
    return {each.task.code: each.state for sheet in sheets([machine.pk]) for each in sheet.cells.values()}


def test_a_used_machine_is_asked_for_what_it_had_run_past(in_farm, used):
    machine = used()
    assert states(machine) == dict.fromkeys(("oil", "grease", "brakes", "first"), State.ASKED)
    assert {each.task.code for each in open_cells()} == {"oil", "grease", "brakes"}  # not what is long over


def test_a_running_in_task_is_asked_while_it_may_still_matter(in_farm, used, cell):
    young = used(readings=((datetime(2025, 12, 1, tzinfo=UTC), 60),), in_service_on=date(2025, 11, 1))
    assert cell(young, "first").is_open
    assert cell(young, "oil").state == State.NEW  # 60 h of the first 100


def test_a_new_machine_is_asked_nothing(in_farm, used):
    machine = used(readings=((datetime(2026, 1, 2, tzinfo=UTC), 3),), in_service_on=date(2026, 1, 1))
    assert set(states(machine).values()) == {State.NEW}
    assert open_cells() == []


@pytest.mark.parametrize(("came_with", "state"), [("99.9", State.NEW), ("100", State.ASKED)])
def test_the_first_due_point_itself_counts_as_behind(in_farm, used, cell, came_with, state):
    machine = used(readings=((datetime(2025, 12, 1, tzinfo=UTC), came_with),))
    assert cell(machine, "oil").state == state


def test_hours_first_read_after_the_program_was_loaded_are_those_it_came_with(in_farm, used, cell):
    machine = used(readings=((datetime(2026, 5, 1, tzinfo=UTC), 3240),))
    assert cell(machine, "oil").is_open


def test_calendar_tasks_go_by_the_day_it_came_into_service(in_farm, used, cell):
    machine = used(readings=(), in_service_on=date(2025, 1, 1))
    assert cell(machine, "brakes").state == State.ASKED  # 12 months on the day the program began
    assert cell(machine, "oil").state == State.NEW
    later = used("T-08", readings=(), in_service_on=date(2025, 1, 2))
    assert cell(later, "brakes").state == State.NEW


def test_what_an_order_recorded_is_not_asked(in_farm, used, cell):
    machine = used()
    duty = DutyFactory(
        machine=machine,
        task=cell(machine, "oil").task,
        last_hours=Decimal(3250),
        last_on=date(2026, 1, 5),
        mark_hours=Decimal(3350),
    )
    LineFactory(
        order=WorkOrderFactory(
            machine=machine, state="closed", closed_at=NOW, closed_by=in_farm.manager, hours_at_close=3250
        ),
        duty=duty,
        open=False,
        outcome=Line.Outcome.DONE,
    )
    assert cell(machine, "oil").state == State.RECORDED


def test_the_latest_statement_holds(in_farm, used, tell, cell):
    machine = used()
    tell(machine, "oil", "?")
    assert cell(machine, "oil").state == State.UNKNOWN
    tell(machine, "oil", "3190 h")
    assert cell(machine, "oil").state == State.STATED
    assert LastDone.objects.count() == 2


def test_machines_without_a_program_and_retired_ones_are_left_out(in_farm, used):
    gone = used(retired_on=date(2026, 5, 1))
    assert sheets([gone.pk, in_farm.machine(tag="X-1").pk]) == []


def test_it_asks_as_many_queries_for_many_machines(in_farm, used):
    one = used()
    with CaptureQueriesContext(connection) as few:
        sheets([one.pk])
    many = [used(f"M-{number}").pk for number in range(6)]
    with CaptureQueriesContext(connection) as more:
        sheets(many)
    assert len(more) == len(few)
