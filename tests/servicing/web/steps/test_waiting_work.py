"""Work that waits by itself is left and gone back to."""

import re

import pytest

from servicing import workorders
from tests.factories import DutyFactory, IntervalFactory, TechnicianFactory
from tests.servicing.web.order_pages import NOW
from tests.servicing.web.steps.step_pages import address, step_of, visible

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_what_waits_is_left_and_gone_back_to(farm, machine):
    TechnicianFactory(member=farm.technician)
    drain = DutyFactory(machine=machine, task__title="Drain", task__minutes=10, task__wait_minutes=60)
    wipe = DutyFactory(machine=machine, task__title="Wipe", task__minutes=10)
    for duty in (drain, wipe):
        IntervalFactory(task=duty.task)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[wipe, drain])
        order = workorders.start(order=order, member=farm.technician, revision=1)
    client = farm.client("technician")
    first, then = step_of(farm, order, drain), step_of(farm, order, wipe)
    assert (first, then) == (2, 3), "what waits begins"
    section = visible(client.get(address(order, first)).content.decode())
    assert "Leave it for 60 min: go on with the next task" in section
    section = visible(client.get(address(order, then)).content.decode())
    assert f'in 50 min and finish <a href="?step={first}" data-go="{first}">Drain</a>' in section


def test_what_waits_in_the_middle_is_begun_left_and_finished_around_other_work(farm, machine):
    """Drain, then wipe meanwhile, then fit the plug: the steps lead there and back by themselves."""
    TechnicianFactory(member=farm.technician)
    facts = {"task__minutes": 10, "task__wait_minutes": 60, "task__waits_after": 1}
    drain = DutyFactory(
        machine=machine, task__title="Drain", task__steps=["Open the plug.", "Fit it."], **facts
    )
    wipe = DutyFactory(machine=machine, task__title="Wipe", task__steps=["Wipe."], task__minutes=10)
    for duty in (drain, wipe):
        IntervalFactory(task=duty.task)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[wipe, drain])
        order = workorders.start(order=order, member=farm.technician, revision=1)
    client = farm.client("technician")
    shown = [visible(client.get(address(order, number)).content.decode()) for number in range(2, 5)]
    assert [re.search(r'class="work-do">([^<]*)', each)[1] for each in shown] == [
        "Open the plug.",
        "Wipe.",
        "Fit it.",
    ]
    assert "Leave it for 60 min.</b> Go on with the next task" in shown[0]
    assert "Outcome" not in shown[0]
    assert "go back" not in shown[1]
    assert "<b>Back to Drain.</b> Leave it for 50 more min first." in shown[2]
    assert step_of(farm, order, drain) == 4, "asked about at its end"


def test_what_waits_alone_says_so_at_its_step(farm, machine):
    facts = {"task__wait_minutes": 15, "task__waits_after": 1, "task__steps": ["Open the plug.", "Fit it."]}
    drain = DutyFactory(machine=machine, task__minutes=10, **facts)
    IntervalFactory(task=drain.task)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[drain])
        order = workorders.start(order=order, member=farm.technician, revision=1)
    client = farm.client("technician")
    assert "<b>Wait 15 min</b>, then go on." in visible(client.get(address(order, 2)).content.decode())
    assert "<b>Wait 15 min</b>, then go on." not in visible(client.get(address(order, 3)).content.decode())
