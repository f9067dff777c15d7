"""Which duties a machine has, and how they follow its fitments, condition, type and program."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleet.models import Machine
from servicing.duties import projection
from servicing.duties.completion import complete_duty
from servicing.models import Duty
from tests.factories import (
    FitmentFactory,
    IntervalFactory,
    MachineTypeFactory,
    ProgramFactory,
    ProgramVersionFactory,
)
from tests.servicing.duties.program_machines import (
    NOW,
    TODAY,
    add_machine,
    add_task,
    build_version,
    refresh,
    set_hours,
)

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ which duties a machine has


def test_a_machine_bought_used_starts_at_the_next_mark(in_farm, version):
    add_task(version)
    add_task(version, "running-in", every_hours=None, first_hours=Decimal(50), once=True)
    machine = add_machine(in_farm, version)
    machine.segments.update(shows_at_start=Decimal(40), offset=Decimal(3200))
    set_hours(machine, 3240)
    refresh(machine)
    assert Duty.objects.get().mark_hours == 3300


def test_a_program_loaded_later_starts_at_the_hours_run_by_then(in_farm):
    machine_type = MachineTypeFactory(organisation=in_farm.organisation)
    program = ProgramFactory(organisation=in_farm.organisation, machine_type=machine_type)
    version = ProgramVersionFactory(program=program, made_at=NOW - timedelta(days=21))
    add_task(version, every_months=1)
    machine = add_machine(in_farm, version, hours_a_day=2)  # 200 h when the program was made
    refresh(machine)
    duty = Duty.objects.get()
    assert (duty.mark_hours, duty.mark_on) == (300, date(2026, 6, 1))


def test_a_task_is_only_for_machines_with_its_fitments(in_farm, version):
    cab, belt = FitmentFactory.create_batch(2, organisation=in_farm.organisation)
    add_task(version, "cab-filter", needs=[cab])
    add_task(version, "open-seat", without=[cab])
    add_task(version, "both", needs=[cab, belt])
    plain, closed = add_machine(in_farm, version), add_machine(in_farm, version)
    closed.fitments.add(cab)
    refresh(plain, closed)
    assert list(plain.duties.values_list("task__code", flat=True)) == ["open-seat"]
    assert list(closed.duties.values_list("task__code", flat=True)) == ["cab-filter"]


def test_the_daily_round_makes_no_duties(in_farm, version):
    """ "10 hours or daily" heads makers' tables: the operator's own round. Common practice, no source."""
    add_task(version, "oil-level", every_hours=Decimal(10))
    grease = add_task(version, "grease", every_hours=Decimal(50))
    IntervalFactory(task=grease, condition="wet", every_hours=Decimal(10))
    dry, wet = add_machine(in_farm, version), add_machine(in_farm, version, condition="wet")
    refresh(dry, wet)
    assert list(Duty.objects.values_list("machine", "task__code")) == [(dry.pk, "grease")]


def test_duties_that_another_refresh_made_meanwhile_are_kept(in_farm, version, monkeypatch):
    add_task(version)
    machine = add_machine(in_farm, version)
    project = projection.project

    def another_refresh_comes_between(*asked, correction):
        monkeypatch.undo()
        refresh(machine)
        complete_duty(duty=Duty.objects.get(), hours=Decimal(98), on=TODAY)
        return project(*asked)

    monkeypatch.setattr("servicing.duties.projection.project", another_refresh_comes_between)
    refresh(machine)
    assert Duty.objects.get().last_hours == 98
    assert Duty.objects.get().mark_hours == 198


# ------------------------------------------------------------------ what moves a duty


def test_a_fitment_taken_off_rests_the_duty_and_put_back_wakes_it(in_farm, version):
    loader = FitmentFactory(organisation=in_farm.organisation)
    add_task(version, needs=[loader])
    machine = add_machine(in_farm, version)
    machine.fitments.add(loader)
    refresh(machine)
    complete_duty(duty=Duty.objects.get(), hours=Decimal(98), on=TODAY)
    machine.fitments.clear()
    refresh(machine)
    resting = Duty.objects.get()
    assert (resting.active, resting.mark_hours, resting.likely) == (False, None, None)
    assert resting.last_hours == 98
    machine.fitments.add(loader)
    refresh(machine)
    woken = Duty.objects.get()
    assert (woken.active, woken.mark_hours) == (True, 198)


def test_a_harder_condition_shortens_the_interval_from_the_last_work(in_farm, version):
    task = add_task(version)
    IntervalFactory(task=task, condition="dust", every_hours=Decimal(50))
    machine = add_machine(in_farm, version)
    refresh(machine)
    complete_duty(duty=Duty.objects.get(), hours=Decimal(103), on=TODAY)
    assert Duty.objects.get().mark_hours == 200
    Machine.objects.filter(pk=machine.pk).update(condition="dust")
    refresh(machine)
    assert Duty.objects.get().mark_hours == 150


def test_in_a_new_version_duties_move_with_their_last_work(in_farm, version):
    add_task(version, "oil")
    dropped = add_task(version, "dropped")
    machine = add_machine(in_farm, version)
    refresh(machine)
    oil = Duty.objects.get(task__code="oil")
    complete_duty(duty=oil, hours=Decimal(104), on=TODAY)
    version.state = "retired"
    version.save()
    second = build_version(in_farm, 2, program=version.program)
    task = add_task(second, "oil", every_hours=Decimal(125))
    new = add_task(second, "new")

    refresh(machine)

    oil.refresh_from_db()
    assert (oil.task, oil.active, oil.mark_hours, oil.last_hours) == (task, True, 225, 104)
    assert not Duty.objects.get(task=dropped).active
    assert Duty.objects.get(task=new).mark_hours == 100
    assert Duty.objects.count() == 3


def test_a_machine_that_changes_its_type_leaves_the_old_programs_duties(in_farm, version):
    add_task(version)
    other = build_version(in_farm)
    add_task(other)
    machine = add_machine(in_farm, version)
    refresh(machine)
    Machine.objects.filter(pk=machine.pk).update(type=other.program.machine_type)
    refresh(machine)
    assert list(Duty.objects.order_by("pk").values_list("active", flat=True)) == [False, True]
