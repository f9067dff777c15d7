"""Duties: marks, days, and what happens to them as machines run, change and are worked on."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.core.errors import FleetError
from fleet.models import Machine, Reading
from fleet.readings.propagation import expect_differently
from servicing.duties import projection
from servicing.duties.completion import complete_duty, put_off_duty
from servicing.duties.refresh import (
    SETTLE,
    refresh_all_duties,
    refresh_awaiting,
    refresh_duties,
    sweep_awaiting,
)
from servicing.models import Duty
from tests.factories import (
    FitmentFactory,
    IntervalFactory,
    MachineFactory,
    MachineTypeFactory,
    ProgramFactory,
    ProgramVersionFactory,
    ReadingFactory,
    TaskFactory,
)

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
TODAY = date(2026, 6, 1)
BEGAN = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


def build_version(farm, number=1, *, program=None, **kwargs):
    if program is None:
        program = ProgramFactory(
            organisation=farm.organisation, machine_type=MachineTypeFactory(organisation=farm.organisation)
        )
    return ProgramVersionFactory(program=program, number=number, made_at=BEGAN, **kwargs)


@pytest.fixture
def version(farm):
    return build_version(farm)


def add_task(version, code="engine-oil", *, needs=(), without=(), **interval):
    task = TaskFactory(version=version, code=code)
    IntervalFactory(task=task, **{"every_hours": Decimal(100), **interval})
    task.needs.set(needs)
    task.without.set(without)
    return task


def add_machine(farm, version, *, hours_a_day=0, days=120, **kwargs):
    """A machine with a reading each week for so many days up to yesterday, running evenly."""
    machine = MachineFactory(
        organisation=farm.organisation, type=version.program.machine_type, yard=farm.yard, **kwargs
    )
    if hours_a_day:
        start = NOW - timedelta(days=days + 1)
        for day in range(0, days + 1, 5):
            ReadingFactory(
                machine=machine,
                taken_at=start + timedelta(days=day),
                shows=Decimal(hours_a_day * day).quantize(Decimal("0.1")),
            )
        set_hours(machine, hours_a_day * days, at=NOW - timedelta(days=1))
    return machine


def set_hours(machine, hours, *, at=NOW):
    Machine.objects.filter(pk=machine.pk).update(hours=Decimal(hours), hours_at=at)
    machine.refresh_from_db()


def refresh(*machines, **kwargs):
    return refresh_duties(machine_ids=[machine.pk for machine in machines], **kwargs)


# ------------------------------------------------------------------ marks and days


def test_a_duty_is_made_with_mark_and_days_in_order(in_farm, version):
    task = add_task(version, every_hours=Decimal(250), every_months=12)
    machine = add_machine(in_farm, version, hours_a_day=2)

    assert refresh(machine) == 1

    duty = Duty.objects.get()
    assert (duty.task, duty.mark_hours, duty.mark_on) == (task, 250, date(2027, 1, 1))
    assert duty.early < duty.likely < duty.late
    # 10 h to go at 2 h a day, one day after the last reading
    assert TODAY + timedelta(days=3) <= duty.likely <= TODAY + timedelta(days=6)


def test_refreshing_again_changes_nothing(in_farm, version):
    add_task(version)
    machine = add_machine(in_farm, version, hours_a_day=2)
    refresh(machine)
    before = Duty.objects.values().get()
    assert refresh(machine) == 0
    assert Duty.objects.values().get() == before


def test_a_reading_that_crosses_the_mark_is_past_without_a_projection(in_farm, version):
    add_task(version)
    machine = add_machine(in_farm, version)
    refresh(machine)
    assert not Duty.objects.past(TODAY).exists()
    set_hours(machine, 100)
    assert Duty.objects.past(TODAY).get().mark_hours == 100


def test_a_machine_without_readings_gets_a_wide_answer(in_farm, version):
    add_task(version)
    quiet = add_machine(in_farm, version)
    refresh(quiet)
    duty = Duty.objects.get()
    assert duty.early > TODAY
    assert (duty.late or date.max) - TODAY > 3 * (duty.early - TODAY)


def test_kin_narrow_the_answer_of_a_new_machine(in_farm, version):
    add_task(version)
    lonely = add_machine(in_farm, version)
    refresh(lonely)
    alone = Duty.objects.get(machine=lonely)
    for _ in range(4):
        add_machine(in_farm, version, hours_a_day=5)
    refresh(lonely)
    among_kin = Duty.objects.get(machine=lonely)
    assert among_kin.likely < alone.likely
    assert among_kin.late - among_kin.early < alone.late - alone.early


def test_refreshing_one_machine_answers_as_refreshing_all(in_farm, version):
    add_task(version)
    other = build_version(in_farm)
    add_task(other)
    machines = [add_machine(in_farm, version, hours_a_day=pace) for pace in (1, 3, 5)]
    machines += [add_machine(in_farm, other, hours_a_day=2), add_machine(in_farm, other)]
    refresh_all_duties()
    together = list(Duty.objects.order_by("pk").values("machine", "early", "likely", "late"))
    assert len(together) == 5
    assert [refresh(machine) for machine in machines] == [0] * 5


def test_so_it_does_in_an_organisation_too_large_to_be_read_whole(in_farm, version, monkeypatch):
    """Only the first two machines of a type teach, whichever are asked for."""
    monkeypatch.setattr("servicing.duties.projection.WHOLE", 3)
    monkeypatch.setattr("servicing.duties.projection.KIN", 2)
    other = build_version(in_farm)
    add_task(version), add_task(version, "filter", every_hours=Decimal(250)), add_task(other)
    machines = [
        add_machine(in_farm, of, hours_a_day=pace, days=days)
        for of in (version, other)
        for pace, days in ((2, 60), (4, 500), (1, 30), (0, 0), (6, 90))
    ]
    refresh_all_duties()
    assert Duty.objects.count() == 15
    assert [refresh(machine) for machine in machines] == [0] * 10


def test_a_larger_organisation_learns_from_the_machines_of_the_type(in_farm, version, monkeypatch):
    monkeypatch.setattr("servicing.duties.projection.WHOLE", 2)
    add_task(version)
    new = add_machine(in_farm, version)
    for _ in range(3):
        add_machine(in_farm, version, hours_a_day=5)
    other = build_version(in_farm)
    for _ in range(3):
        add_machine(in_farm, other, hours_a_day=1)
    refresh(new)
    before = Duty.objects.values("early", "likely", "late").get()
    Reading.objects.filter(machine__type=other.program.machine_type).delete()
    refresh(new)
    assert Duty.objects.values("early", "likely", "late").get() == before
    assert before["likely"] - TODAY < timedelta(days=40)  # 100 h at 5 h a day, drawn a little to the unknown


def test_a_date_comes_first_where_hours_are_slow(in_farm, version):
    add_task(version, every_hours=Decimal(5000), every_months=6)
    machine = add_machine(in_farm, version, hours_a_day=1)
    refresh(machine)
    duty = Duty.objects.get()
    assert duty.early == duty.likely == duty.late == duty.mark_on == date(2026, 7, 1)


def test_beyond_three_years_there_is_no_day(in_farm, version):
    add_task(version, every_hours=Decimal(90000))
    machine = add_machine(in_farm, version, hours_a_day=1)
    refresh(machine)
    duty = Duty.objects.get()
    assert (duty.early, duty.likely, duty.late) == (None, None, None)
    assert duty.projected_at == NOW


def test_a_duty_past_its_hours_shows_the_day_it_was_crossed(in_farm, version):
    add_task(version, every_hours=Decimal(100))
    machine = add_machine(in_farm, version, hours_a_day=1)  # readings every five days; 100 h on the hundredth
    refresh(machine)
    duty = Duty.objects.get()
    crossed = (NOW - timedelta(days=121 - 100)).date()
    assert duty.early == duty.likely == duty.late == crossed


def test_a_duty_past_its_date_shows_that_date(in_farm, version):
    add_task(version, every_hours=Decimal(5000), every_months=2)
    machine = add_machine(in_farm, version)
    refresh(machine)
    duty = Duty.objects.get()
    assert duty.early == duty.likely == duty.late == duty.mark_on == date(2026, 3, 1)
    assert duty in Duty.objects.past(TODAY)


def test_the_yards_day_decides(in_farm, version, frozen):
    """Half past eleven at night in UTC is the next day in Madrid, where the machine stands."""
    add_task(version, every_hours=Decimal(5000), every_months=6)
    machine = add_machine(in_farm, version)
    set_hours(machine, 5000, at=datetime(2026, 6, 1, 22, 30, tzinfo=UTC))
    frozen.move_to(datetime(2026, 6, 1, 22, 30, tzinfo=UTC))
    refresh(machine)
    assert Duty.objects.get().likely == date(2026, 6, 2)


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


def test_once_only_work_is_finished_when_done(in_farm, version):
    add_task(version, every_hours=None, first_hours=Decimal(50), once=True)
    machine = add_machine(in_farm, version)
    refresh(machine)
    complete_duty(duty=Duty.objects.get(), hours=Decimal(52), on=TODAY)
    refresh(machine)
    duty = Duty.objects.get()
    assert (duty.active, duty.mark_hours, duty.met_hours, duty.last_hours) == (False, None, 50, 52)


def test_work_moves_the_mark_and_asks_for_a_projection(in_farm, version, django_capture_on_commit_callbacks):
    add_task(version, every_months=12)
    machine = add_machine(in_farm, version, hours_a_day=2)
    refresh(machine)
    duty = Duty.objects.get()
    put_off_duty(duty=duty, until=TODAY + timedelta(days=3), reason="No filter in stock.")

    met = complete_duty(duty=duty, hours=Decimal(240), on=TODAY)

    assert (met.mark_hours, met.mark_on) == (300, date(2027, 6, 1))
    assert (met.met_hours, met.met_on) == (100, date(2027, 1, 1))
    assert (met.last_hours, met.last_on, met.likely) == (240, TODAY, None)
    assert (met.put_off_until, met.put_off_reason) == (None, "")
    assert list(Machine.objects.awaiting_projection()) == [machine]
    refresh(machine)
    assert Duty.objects.get().likely > TODAY
    assert not Machine.objects.awaiting_projection()


def test_putting_off_needs_a_reason_and_a_later_day(in_farm, version):
    add_task(version)
    refresh(add_machine(in_farm, version))
    duty = Duty.objects.get()
    with pytest.raises(FleetError) as refused:
        put_off_duty(duty=duty, until=TODAY + timedelta(days=1), reason="  ")
    assert refused.value.field == "reason"
    with pytest.raises(FleetError) as refused:
        put_off_duty(duty=duty, until=TODAY, reason="No filter in stock.")
    assert refused.value.field == "put_off_until"
    put_off_duty(duty=duty, until=TODAY + timedelta(days=1), reason="No filter in stock.")
    assert Duty.objects.get().put_off_reason == "No filter in stock."


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


def test_hours_that_move_during_a_refresh_are_projected_again(in_farm, version, monkeypatch, frozen):
    add_task(version)
    machine = add_machine(in_farm, version)
    expect_differently([machine.pk])
    project = projection.project

    def a_reading_comes_between(*asked, correction):
        frozen.shift(1)
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


def test_the_sweep_refreshes_what_waits_in_every_organisation(farm, stranger, frozen):
    machines = []
    for house in (farm, stranger):
        version = build_version(house)
        with house.scope():
            add_task(version)
            machines.append(add_machine(house, version))
            expect_differently([machines[-1].pk])
    assert sweep_awaiting() == 0  # their own tasks still have time to come
    frozen.shift(SETTLE)
    assert sweep_awaiting() == 2
    for house, machine in zip((farm, stranger), machines, strict=True):
        with house.scope():
            assert Duty.objects.get().machine == machine
            assert not Machine.objects.awaiting_projection()
    assert sweep_awaiting() == 0


def test_a_sweep_that_dies_leaves_its_machines_to_the_next(in_farm, version, monkeypatch, frozen):
    add_task(version)
    machine = add_machine(in_farm, version)
    expect_differently([machine.pk])
    frozen.shift(SETTLE)
    monkeypatch.setattr("servicing.duties.projection.project", lambda *asked, correction: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        sweep_awaiting()
    monkeypatch.undo()
    assert sweep_awaiting() == 0  # claimed a moment ago
    frozen.shift(SETTLE)
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
    assert capsys.readouterr().out == "Alder Farm: 1 duties changed\n"
    call_command("update_due")
    assert capsys.readouterr().out == "Alder Farm: 0 duties changed\nBirch Rentals: 1 duties changed\n"
    with pytest.raises(CommandError, match="there is no organisation 'nobody'"):
        call_command("update_due", organisation="nobody")
