"""The task queue's side of servicing: what is put on the broker, and what each task does."""

from contextlib import suppress
from datetime import timedelta
from decimal import Decimal

from django.utils import timezone

from config.celery import app
from fleet.models import Machine
from fleet.readings.propagation import expect_differently
from servicing import tasks
from servicing.duties.refresh import queue_refresh
from servicing.models import Duty
from tests.factories import (
    IntervalFactory,
    MachineTypeFactory,
    ProgramFactory,
    ProgramVersionFactory,
    TaskFactory,
)


def add_machine(house):
    machine_type = MachineTypeFactory(organisation=house.organisation)
    program = ProgramFactory(organisation=house.organisation, machine_type=machine_type)
    IntervalFactory(
        task=TaskFactory(version=ProgramVersionFactory(program=program)), every_hours=Decimal(100)
    )
    return house.machine(type=machine_type)


def duties_of(house):
    with house.scope():
        return list(Duty.objects.values_list("machine", "mark_hours"))


def messages(task_queue):
    found = []
    with suppress(task_queue.Empty):
        while True:
            message = task_queue.get_nowait()
            message.ack()
            found.append((message.headers["task"], message.payload[1]))
    return sorted(found, key=str)


def test_moved_hours_are_queued(farm, task_queue, django_capture_on_commit_callbacks):
    ours, other = add_machine(farm), add_machine(farm)
    with django_capture_on_commit_callbacks(execute=True):
        queue_refresh(farm.organisation.pk, [other.pk, ours.pk])
    told = {"organisation_id": farm.organisation.pk, "machine_ids": [ours.pk, other.pk]}
    assert messages(task_queue) == [("servicing.tasks.project_machines", told)]


def test_nightly_every_organisation_is_queued(farm, stranger, task_queue):
    tasks.project_everything()
    assert messages(task_queue) == [
        ("servicing.tasks.project_organisation", {"organisation_id": house.organisation.pk})
        for house in (farm, stranger)
    ]


def test_a_machine_that_waits_is_projected_in_its_organisation(farm, stranger):
    ours, theirs = add_machine(farm), add_machine(stranger)
    for house, machine in ((farm, ours), (stranger, theirs)):
        with house.scope():
            expect_differently([machine.pk])
    tasks.project_machines(organisation_id=farm.organisation.pk, machine_ids=[ours.pk, theirs.pk])
    assert duties_of(farm) == [(ours.pk, 100)]
    assert duties_of(stranger) == []


def test_all_of_an_organisation_is_projected(farm, stranger):
    ours = add_machine(farm)
    add_machine(stranger)
    tasks.project_organisation(organisation_id=farm.organisation.pk)
    assert duties_of(farm) == [(ours.pk, 100)]
    assert duties_of(stranger) == []


def test_the_sweep_finds_what_a_lost_task_left(farm):
    machine = add_machine(farm)
    with farm.scope():
        Machine.objects.filter(pk=machine.pk).update(
            projection_wanted_at=timezone.now() - timedelta(minutes=5)
        )
    assert tasks.sweep() == 1
    assert duties_of(farm) == [(machine.pk, 100)]
    assert tasks.sweep() == 0


def test_beat_calls_tasks_that_exist():
    named = {entry["task"] for entry in app.conf.beat_schedule.values()}
    assert {name for name in named if name.startswith("servicing.")} <= set(app.tasks)
