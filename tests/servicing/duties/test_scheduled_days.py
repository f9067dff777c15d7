"""What is known of the days ahead moves the due days: bookings, hires, orders, tag-outs, holidays.

The machine runs 4 h a day, every day, and was read now: a mark 40 h ahead is likely ten days from today.
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet import readings
from fleet.machines import attachments, tag_outs
from fleet.models import Hire, Machine, TagOut
from fleet.readings import Submitted
from fleet.readings.propagation import expect_differently
from servicing import gate, workorders
from servicing.duties.refresh import refresh_awaiting, refresh_duties
from servicing.models import Duty
from tests.factories import (
    BookingFactory,
    DutyFactory,
    HolidayFactory,
    IntervalFactory,
    MachineTypeFactory,
    ProgramFactory,
    ProgramVersionFactory,
    TaskFactory,
    YardFactory,
)

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
TODAY = date(2026, 6, 1)
pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def version(farm):
    kind = MachineTypeFactory(organisation=farm.organisation)
    program = ProgramFactory(organisation=farm.organisation, machine_type=kind)
    made = ProgramVersionFactory(program=program, made_at=NOW - timedelta(days=400))
    IntervalFactory(task=TaskFactory(version=made), every_hours=Decimal(500))
    return made


def machine_at_460(farm, version, **more):
    """460 h now, after 115 days of 4 h; its mark stands at 500 h."""
    made = farm.machine(type=version.program.machine_type, **more)
    rows = [Submitted(made.pk, NOW - timedelta(days=115 - n), Decimal(4 * n)) for n in range(0, 116, 5)]
    readings.take(organisation=farm.organisation, rows=rows, source="page", sender="test")
    made.refresh_from_db()
    return made


@pytest.fixture
def machine(in_farm, version):
    return machine_at_460(in_farm, version, for_hire=True)


def days(machine):
    """Days from today to early, likely and late, after the refresh that is waited for."""
    assert Machine.objects.awaiting_projection().filter(pk=machine.pk).exists()
    refresh_awaiting(machine_ids=[machine.pk])
    duty = Duty.objects.get(machine=machine)
    assert duty.early <= duty.likely <= duty.late
    return [(day - TODAY).days for day in (duty.early, duty.likely, duty.late)]


@pytest.fixture
def usual(machine):
    """The days without anything known."""
    usual = days(machine)
    assert abs(usual[1] - 10) <= 1
    return usual


def want(machine):
    expect_differently([machine.pk])
    return machine


def test_a_booking_that_runs_hard_brings_the_mark_nearer(machine, usual):
    """Half of today is left, for 2 h; the other 38 h are run from tomorrow on, in under five days of 8 h."""
    BookingFactory(machine=machine, first_on=date(2026, 6, 2), last_on=date(2026, 6, 12), hours_a_day=8)
    early, likely, late = days(want(machine))
    assert (likely, late - early) == (5, 0)


def test_a_booking_in_which_it_stands_puts_the_mark_off_by_its_days(machine, usual):
    BookingFactory(machine=machine, first_on=date(2026, 6, 2), last_on=date(2026, 6, 8), hours_a_day=0)
    assert days(want(machine)) == [each + 7 for each in usual]


def test_a_booking_after_the_mark_or_withdrawn_changes_nothing(machine, usual):
    BookingFactory(machine=machine, first_on=date(2027, 6, 2), last_on=date(2027, 6, 8), hours_a_day=0)
    BookingFactory(machine=machine, first_on=date(2026, 6, 2), last_on=date(2026, 6, 8), withdrawn_at=NOW)
    assert days(want(machine)) == usual


def test_a_holiday_puts_the_mark_off_at_its_yard_alone(in_farm, machine, usual):
    own = {"organisation": in_farm.organisation, "first_on": date(2026, 6, 3), "last_on": date(2026, 6, 4)}
    HolidayFactory(**own, yard=YardFactory(organisation=in_farm.organisation))
    assert days(want(machine)) == usual
    HolidayFactory(**own, yard=in_farm.yard)
    assert days(want(machine)) == [each + 2 for each in usual]
    HolidayFactory(**own)  # of all yards, the same days: they count once
    assert days(want(machine)) == [each + 2 for each in usual]


def test_who_books_a_holiday_means_it(in_farm, machine, usual):
    BookingFactory(machine=machine, first_on=date(2026, 6, 2), last_on=date(2026, 6, 12), hours_a_day=8)
    booked = days(want(machine))
    HolidayFactory(organisation=in_farm.organisation, first_on=date(2026, 6, 3), last_on=date(2026, 6, 4))
    assert days(want(machine)) == booked


def test_a_hire_that_is_out_runs_what_the_gate_was_told(in_farm, machine, usual):
    gate.check_out(
        machine=machine,
        hirer="Gala Ros",
        due_back_on=date(2026, 6, 20),
        shows=None,
        fuel=None,
        hours_a_day=Decimal(10),
        anyway_reason="The mark is known.",
        member=in_farm.manager,
    )
    assert days(machine)[1] == 4  # 40 h at 10 h a day
    Duty.objects.update(early=None, likely=None, late=None)
    gate.check_in(machine=machine, shows=None, fuel=None, member=in_farm.counter)
    assert days(machine) == usual


def test_a_hire_from_a_booking_runs_what_was_booked(in_farm, machine, usual):
    BookingFactory(machine=machine, first_on=TODAY, last_on=date(2026, 6, 12), hours_a_day=Decimal("7.5"))
    gate.check_out(
        machine=machine,
        hirer="Gala Ros",
        due_back_on=None,
        shows=None,
        fuel=None,
        anyway_reason="The mark is known.",
        member=in_farm.manager,
    )
    assert Hire.objects.get().hours_a_day == Decimal("7.5")


def test_a_hire_of_which_nothing_is_known_leaves_the_guess_over_holidays(in_farm, machine, usual):
    HolidayFactory(organisation=in_farm.organisation, first_on=date(2026, 6, 3), last_on=date(2026, 6, 4))
    gate.check_out(
        machine=machine,
        hirer="Gala Ros",
        due_back_on=date(2026, 6, 20),
        shows=None,
        fuel=None,
        anyway_reason="The mark is known.",
        member=in_farm.manager,
    )
    assert days(machine) == usual


def test_a_tag_out_stands_today_and_each_day_it_lasts(in_farm, machine, usual, time_machine):
    tagged = tag_outs.place(machine=machine, reason="Brake.", member=in_farm.technician)
    # 14 h of today's 24 (10:00 UTC is noon in Madrid: 12 h) are lost
    assert days(machine)[1] - usual[1] in (0, 1)
    time_machine.move_to(NOW + timedelta(days=3))
    assert days(want(machine))[1] - usual[1] in (3, 4)
    tag_outs.clear(tag_out=tagged, reason="Bled.", member=in_farm.manager)
    assert days(machine)[1] - usual[1] == 3


def test_a_tag_out_of_last_year_changes_nothing(in_farm, machine, usual):
    TagOut.objects.create(
        organisation=in_farm.organisation,
        machine=machine,
        reason="Brake.",
        placed_at=NOW - timedelta(days=300),
        cleared_at=NOW - timedelta(days=200),
        cleared_by=in_farm.manager,
        clear_reason="Bled.",
    )
    assert days(want(machine)) == usual


@pytest.mark.parametrize(("minutes", "lost"), [(300, 1), (240, 1), (239, 0), (60, 0)])
def test_a_day_planned_for_half_a_days_work_or_more_runs_nothing(in_farm, machine, usual, minutes, lost):
    duty = Duty.objects.get()
    duty.task.minutes = minutes
    duty.task.save()
    order = workorders.plan(
        member=in_farm.manager, machine=machine, duties=[duty], planned_for=TODAY + timedelta(days=2)
    )
    assert days(machine) == [each + lost for each in usual]
    workorders.assign(
        order=order,
        member=in_farm.manager,
        revision=order.revision,
        technician=None,
        planned_for=TODAY + timedelta(days=300),
    )
    assert days(machine) == usual


def test_a_machine_in_the_shop_does_not_run_today(in_farm, machine, usual, time_machine):
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[Duty.objects.get()])
    order = workorders.start(order=order, member=in_farm.technician, revision=order.revision)
    time_machine.move_to(NOW + timedelta(days=5))
    assert days(machine)[1] - usual[1] in (5, 6)
    workorders.hold(order=order, member=in_farm.technician, revision=order.revision, reason="No filter.")
    assert days(want(machine))[1] - usual[1] in (5, 6)
    order.refresh_from_db()
    workorders.cancel(order=order, member=in_farm.manager, revision=order.revision, reason="Sold.")
    assert days(machine)[1] - usual[1] == 5  # the days it stood stay known


def test_an_attachment_stands_with_its_host(in_farm, machine, usual, version):
    kind = MachineTypeFactory(organisation=in_farm.organisation, category="attachment")
    hung = in_farm.attachment(type=kind)
    attachments.mount(attachment=hung, machine=machine, at=NOW - timedelta(days=100), member=in_farm.manager)
    hung.refresh_from_db()
    program = ProgramFactory(organisation=in_farm.organisation, machine_type=kind)
    made = ProgramVersionFactory(program=program, made_at=NOW - timedelta(days=400))
    IntervalFactory(task=TaskFactory(version=made), every_hours=hung.hours + 40)
    before = days(hung)
    BookingFactory(machine=machine, first_on=date(2026, 6, 2), last_on=date(2026, 6, 8), hours_a_day=0)
    assert days(want(hung)) == [each + 7 for each in before]


def test_the_clocks_may_change_within_a_booking(in_farm, machine, time_machine):
    """Madrid turns its clocks on 25 October 2026; a week's booking puts the mark off by seven days."""
    time_machine.move_to(datetime(2026, 10, 20, 10, 0, tzinfo=UTC))
    Machine.objects.update(hours_at=datetime(2026, 10, 20, 10, 0, tzinfo=UTC))
    before = days(want(machine))
    BookingFactory(machine=machine, first_on=date(2026, 10, 22), last_on=date(2026, 10, 28), hours_a_day=0)
    after = days(want(machine))
    assert [b - a for a, b in zip(before, after, strict=True)] == [7, 7, 7]


def test_the_number_of_queries_does_not_grow_with_machines(in_farm, version):
    def asked(*machines):
        with CaptureQueriesContext(connection) as queries:
            refresh_duties(machine_ids=[machine.pk for machine in machines])
        return len(queries)

    made = [machine_at_460(in_farm, version) for _ in range(4)]
    for machine in made:
        BookingFactory(machine=machine)
        tag_outs.place(machine=machine, reason="Brake.", member=in_farm.technician)
        DutyFactory(machine=machine, task__version=version, mark_hours=Decimal(900))
    HolidayFactory.create_batch(3, organisation=in_farm.organisation)
    refresh_duties(machine_ids=[machine.pk for machine in made])
    assert asked(*made) == asked(made[0])
