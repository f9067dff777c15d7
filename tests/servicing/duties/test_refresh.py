"""Duties are refreshed: what comes in meanwhile, machines left alone, the sweep, its task and the command."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Machine
from fleet.readings.propagation import expect_differently
from servicing.duties import projection
from servicing.duties.completion import complete_duty
from servicing.duties.refresh import SETTLE, refresh_awaiting, refresh_duties, sweep_awaiting
from servicing.models import Duty
from tests.factories import MachineFactory, ReadingFactory
from tests.servicing.duties.program_machines import NOW, TODAY, add_machine, add_task, build_version, refresh

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ what comes in during a refresh


def test_work_recorded_during_a_refresh_is_kept(in_farm, version, monkeypatch):
    add_task(version)
    machine = add_machine(in_farm, version, hours_a_day=2)
    refresh(machine)
    duty = Duty.objects.get()
    Duty.objects.update(likely=None, late=None)  # so that the refresh has something to write
    project = projection.project

    def work_comes_between(*asked, correction):
        complete_duty(duty=duty, hours=Decimal(240), on=TODAY)
        return project(*asked)

    monkeypatch.setattr("servicing.duties.projection.project", work_comes_between)
    expect_differently([machine.pk])
    assert refresh(machine) == 0
    duty.refresh_from_db()
    assert (duty.mark_hours, duty.last_hours) == (300, 240)
    assert list(Machine.objects.awaiting_projection()) == [machine]


def test_hours_that_move_during_a_refresh_are_projected_again(in_farm, version, monkeypatch, time_machine):
    add_task(version)
    machine = add_machine(in_farm, version)
    expect_differently([machine.pk])
    project = projection.project

    def a_reading_comes_between(*asked, correction):
        time_machine.shift(1)
        expect_differently([machine.pk])
        return project(*asked)

    monkeypatch.setattr("servicing.duties.projection.project", a_reading_comes_between)
    refresh(machine)
    assert list(Machine.objects.awaiting_projection()) == [machine]
    monkeypatch.undo()
    refresh(machine)
    assert not Machine.objects.awaiting_projection()


# ------------------------------------------------------------------ machines that are left alone


def test_retired_machines_are_left_alone_and_wait_for_nothing(in_farm, version):
    add_task(version)
    machine = add_machine(in_farm, version, retired_on=TODAY)
    expect_differently([machine.pk])
    assert refresh(machine) == 0
    assert not Duty.objects.exists()
    assert not Machine.objects.awaiting_projection()


def test_a_machine_type_without_a_program_has_no_duties(in_farm):
    machine = MachineFactory(organisation=in_farm.organisation)
    assert refresh(machine) == 0


def test_another_organisations_machines_are_not_touched(farm, stranger):
    version = build_version(stranger)
    with stranger.scope():
        add_task(version)
    machine = add_machine(stranger, version)
    with farm.scope():
        assert refresh(machine) == 0
    with stranger.scope():
        assert not Duty.objects.exists()


# ------------------------------------------------------------------ the sweep, its task and the command


def test_the_sweep_refreshes_what_waits_in_every_organisation(farm, stranger, time_machine):
    machines = []
    for house in (farm, stranger):
        version = build_version(house)
        with house.scope():
            add_task(version)
            machines.append(add_machine(house, version))
            expect_differently([machines[-1].pk])
    assert sweep_awaiting() == 0  # their own tasks still have time to come
    time_machine.shift(SETTLE)
    assert sweep_awaiting() == 2
    for house, machine in zip((farm, stranger), machines, strict=True):
        with house.scope():
            assert Duty.objects.get().machine == machine
            assert not Machine.objects.awaiting_projection()
    assert sweep_awaiting() == 0


def test_a_sweep_that_dies_leaves_its_machines_to_the_next(in_farm, version, monkeypatch, time_machine):
    add_task(version)
    machine = add_machine(in_farm, version)
    expect_differently([machine.pk])
    time_machine.shift(SETTLE)
    monkeypatch.setattr("servicing.duties.projection.project", lambda *asked, correction: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        sweep_awaiting()
    monkeypatch.undo()
    assert sweep_awaiting() == 0  # claimed a moment ago
    time_machine.shift(SETTLE)
    assert sweep_awaiting() == 1
    assert Duty.objects.exists()


def test_a_task_delivered_twice_works_once(in_farm, version):
    add_task(version)
    machine = add_machine(in_farm, version)
    expect_differently([machine.pk])
    assert refresh_awaiting(machine_ids=[machine.pk]) == 1
    with CaptureQueriesContext(connection) as queries:
        assert refresh_awaiting(machine_ids=[machine.pk]) == 0
    assert len(queries) == 1


def count_queries(machines):
    with CaptureQueriesContext(connection) as queries:
        refresh_duties(machine_ids=[machine.pk for machine in machines])
    inserts = [query["sql"] for query in queries if query["sql"].startswith("INSERT")]
    return len(queries) - len(inserts), len(inserts)


def test_queries_do_not_grow_with_the_fleet(in_farm, version):
    """With 10 and with 200 machines; only the rows of an INSERT are cut into pieces, as SQLite asks."""
    for code in ("oil", "filter", "belt"):
        add_task(version, code)
    machines = [add_machine(in_farm, version) for _ in range(210)]
    expect_differently([machine.pk for machine in machines])
    made = count_queries(machines[:10]), count_queries(machines[10:])
    assert Duty.objects.count() == 630
    for machine in machines:
        ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=1), shows=Decimal(40))
    Machine.objects.update(hours=Decimal(40), hours_at=NOW - timedelta(days=1))
    expect_differently([machine.pk for machine in machines])
    changed = count_queries(machines[:10]), count_queries(machines[10:])
    assert made[0][0] == made[1][0]
    assert changed[0][0] == changed[1][0] <= 36
    if connection.vendor == "postgresql":
        assert changed[0] == changed[1]


def test_command_projects_every_organisation_or_one(farm, stranger, capsys):
    for house in (farm, stranger):
        version = build_version(house)
        with house.scope():
            add_task(version)
            add_machine(house, version)
    call_command("update_due", organisation="alder-farm")
    assert capsys.readouterr().out == "Alder Farm: 1 task due changed\n"
    call_command("update_due")
    assert capsys.readouterr().out == "Alder Farm: 0 tasks due changed\nBirch Rentals: 1 task due changed\n"
    with pytest.raises(CommandError, match="there is no organisation 'nobody'"):
        call_command("update_due", organisation="nobody")
