"""Putting a closed order right: who may, what stays, and what follows."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine

from fleet.core.errors import FleetError, NotAllowed, Stale, WrongState
from fleet.machines import attachments
from fleet.models import Reading, TagOut
from fleet.readings import decisions
from servicing import workorders
from servicing.duties.refresh import refresh_duties
from servicing.ledger.costs import cost
from servicing.measurements import retest
from servicing.models import Amendment, Line
from servicing.workorders import CheckEntry, Entries, LabourEntry, LineEntry, NotReady, PartEntry, Problem
from tests.factories import (
    AttachmentFactory,
    CheckFactory,
    DefectFactory,
    DutyFactory,
    FitmentFactory,
    IntervalFactory,
    MachineFactory,
    PartFactory,
    ReadingFactory,
    TechnicianFactory,
)

CLOSED = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
LATER = date(2026, 5, 20)
D = Decimal


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(CLOSED, tick=False) as clock:
        yield clock


@pytest.fixture
def machine(in_farm):
    machine = MachineFactory(
        organisation=in_farm.organisation, yard=in_farm.yard, tag="T-07", hours=D(1000), hours_at=CLOSED
    )
    ReadingFactory(machine=machine, taken_at=CLOSED - timedelta(days=10), shows=D(1000))
    return machine


@pytest.fixture
def technician(in_farm):
    return TechnicianFactory(member=in_farm.technician, hourly_rate=D("45.50"))


def task_due(machine, title, **kwargs):
    """A task due at 1000 h, then every 100."""
    duty = DutyFactory(
        machine=machine,
        mark_hours=D(1000),
        task__title=title,
        task__version__program__machine_type=machine.type,
        **kwargs,
    )
    IntervalFactory(task=duty.task, every_hours=D(100))
    return duty


@pytest.fixture
def belt(machine):
    duty = task_due(machine, "Fan belt")
    CheckFactory(task=duty.task, label="Belt deflection", unit="mm", lower=D(7), upper=D(9))
    return duty


def started(farm, machine, *duties, **kwargs):
    order = workorders.plan(member=farm.manager, machine=machine, duties=duties, **kwargs)
    return workorders.start(order=order, member=farm.technician, revision=order.revision)


def entries(order, outcome="done", hours="1004", found=None, **kwargs):
    """The same outcome for every line; `found` is entered for every check."""
    line_facts = {key: kwargs.pop(key) for key in ("reason", "put_off_until", "note") if key in kwargs}
    lines = [
        LineEntry(
            line.pk,
            outcome,
            checks=[CheckEntry(c.pk, found) for c in line.task.checks.all()] if found and line.task else [],
            **line_facts,
        )
        for line in order.lines.all()
    ]
    return Entries(lines=lines, hours=None if hours is None else D(hours), **kwargs)


def close(farm, order, **kwargs):
    return workorders.close(
        order=order, member=farm.technician, revision=order.revision, entries=entries(order, **kwargs)
    )


def amend(order, member, *, why="Typed it wrong.", hours=None, entered=None, **kwargs):
    return workorders.amend(
        order=order,
        member=member,
        revision=order.revision,
        entries=entered or entries(order, hours=hours, **kwargs),
        reason=why,
    )


def changed(order):
    return [
        {(each.what, each.was, each.now) for each in one.changes} for one in workorders.corrections(order)
    ]


# ------------------------------------------------------------------ who may, and for how long


@pytest.mark.parametrize(
    ("role", "later", "allowed"),
    [
        ("technician", timedelta(hours=48), True),
        ("technician", timedelta(hours=48, seconds=1), False),
        ("manager", timedelta(days=200), True),
        ("owner", timedelta(days=200), True),
        ("counter", timedelta(0), False),
    ],
)
def test_who_closed_it_may_for_48_hours_and_who_plans_orders_always(
    in_farm, machine, belt, clock, role, later, allowed
):
    order = close(in_farm, started(in_farm, machine, belt), found="8")
    member = getattr(in_farm, role)
    clock.move_to(CLOSED + later)
    assert workorders.may_amend(order, member) == allowed
    if allowed:
        assert amend(order, member, found="7.5").state == "closed"
        assert changed(order) == [{("Belt deflection, as found", "8 mm", "7.5 mm")}]
    else:
        with pytest.raises(NotAllowed):
            amend(order, member, found="7.5")
        assert not Amendment.objects.exists()


def test_another_technician_may_not_and_neither_may_a_stranger(in_farm, stranger, machine, belt):
    order = close(in_farm, started(in_farm, machine, belt), found="8")
    other = TechnicianFactory(member__organisation=in_farm.organisation, member__role="technician").member
    for member in (other, stranger.owner):
        assert not workorders.may_amend(order, member)
        with pytest.raises(NotAllowed):
            amend(order, member, found="7.5")


@pytest.mark.parametrize("state", ["planned", "started", "parked", "withdrawn"])
def test_only_a_closed_order_is_corrected(in_farm, machine, belt, state):
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[belt])
    if state in ("started", "parked"):
        order = workorders.start(order=order, member=in_farm.technician, revision=1)
    if state == "parked":
        order = workorders.park(
            order=order, member=in_farm.technician, revision=order.revision, reason="No belt."
        )
    if state == "withdrawn":
        order = workorders.withdraw(order=order, member=in_farm.manager, revision=1, reason="Sold.")
    with pytest.raises(WrongState):
        amend(order, in_farm.manager, found="8")
    assert not workorders.may_amend(order, in_farm.manager)


def test_a_reason_and_a_change_are_asked_for_and_a_stale_page_is_told(in_farm, machine, belt):
    order = close(in_farm, started(in_farm, machine, belt), found="8")
    with pytest.raises(NotReady) as refused:
        amend(order, in_farm.manager, found="7.5", why="  ")
    assert refused.value.problems == (Problem(("reason",), "Say what was wrong."),)
    with pytest.raises(FleetError) as refused:
        amend(order, in_farm.manager, found="8")
    assert refused.value.field == "reason"
    assert "Nothing would change" in refused.value.sentence

    amend(order, in_farm.manager, found="7.5")
    with pytest.raises(Stale):
        amend(order, in_farm.manager, found="7.8")  # `order` is what the page showed before
    assert Amendment.objects.count() == 1


def test_every_problem_is_named_at_once_and_nothing_is_kept(in_farm, machine, belt):
    order = close(in_farm, started(in_farm, machine, belt), found="8")
    with pytest.raises(NotReady) as refused:
        amend(order, in_farm.manager, found="12", hours="900000")
    line, check = order.lines.get().pk, belt.task.checks.get().pk
    wrong = {each.path for each in refused.value.problems}
    assert wrong == {("lines", line, "checks", check, "left"), ("hours",)}
    order.refresh_from_db()
    assert order.hours_at_close == 1004
    assert order.lines.get().results.get().found_value == 8
    assert not Amendment.objects.exists()
    assert Reading.objects.counted().filter(machine=machine).latest_first().first().shows == 1004


# ------------------------------------------------------------------ what stays


def test_the_first_version_stays_with_who_and_why_through_two_corrections(in_farm, machine, belt, technician):
    oil = PartFactory(organisation=in_farm.organisation, name="Oil", number="O1", unit="L", unit_cost=D(4))
    order = close(
        in_farm,
        started(in_farm, machine, belt),
        found="8",
        note="All well.",
        parts=[PartEntry(oil.pk, D(2))],
        labour=[LabourEntry(technician.pk, 30)],
    )
    amend(
        order,
        in_farm.technician,
        why="Forgot the last litre.",
        found="8",
        note="All well.",
        parts=[PartEntry(oil.pk, D(3))],
        labour=[LabourEntry(technician.pk, 30)],
    )
    order.refresh_from_db()
    amend(
        order,
        in_farm.manager,
        why="No oil, and it took longer.",
        found="8.5",
        labour=[LabourEntry(technician.pk, 75)],
    )

    first, second = workorders.corrections(order)
    assert (first.amendment.made_by, first.amendment.reason) == (in_farm.technician, "Forgot the last litre.")
    assert first.amendment.made_at == CLOSED
    assert changed(order) == [
        {("Oil O1", "2 L", "3 L")},
        {
            ("Oil O1", "3 L", ""),
            ("Belt deflection, as found", "8 mm", "8.5 mm"),
            ("Fan belt: note", "All well.", ""),
            (str(technician), "30 min", "75 min"),
        },
    ]
    assert (second.amendment.made_by, second.amendment.before["hours_at_close"]) == (in_farm.manager, "1004")
    kept = first.amendment.before["lines"][0]["results"][0]
    assert (kept["as_found"], kept["recorded_by"], kept["passes"]) == ("8 mm", str(in_farm.technician), True)


def test_prices_are_those_of_the_day_and_stock_moves_by_the_difference(in_farm, machine, belt, technician):
    oil = PartFactory(organisation=in_farm.organisation, unit="L", unit_cost=D(4), in_stock="10")
    belt_part = PartFactory(organisation=in_farm.organisation, unit_cost=D(20), in_stock="3")
    order = close(
        in_farm,
        started(in_farm, machine, belt),
        found="8",
        parts=[PartEntry(oil.pk, D(2))],
        labour=[LabourEntry(technician.pk, 60)],
    )
    oil.unit_cost, technician.hourly_rate = D(5), D(60)
    oil.save(), technician.save()
    amend(
        order,
        in_farm.manager,
        found="8",
        parts=[PartEntry(oil.pk, D("0.5")), PartEntry(belt_part.pk, D(1))],
        labour=[LabourEntry(technician.pk, 90)],
    )
    assert (oil.in_stock, belt_part.in_stock) == (D("9.5"), D(2))
    spent = cost(
        order.parts.values_list("quantity", "unit_cost"), order.labour.values_list("minutes", "hourly_rate")
    )
    # by hand: 0.5 L at 4 + 1 at 20; 1.5 h at 45.50
    assert (spent.parts, spent.labour) == (D(22), D("68.25"))


# ------------------------------------------------------------------ marks follow


def test_work_that_was_not_done_gives_the_mark_back(in_farm, machine, belt):
    belt.last_hours = belt.met_hours = D(900)
    belt.last_on = date(2026, 1, 7)
    belt.save()
    order = close(in_farm, started(in_farm, machine, belt), found="8")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours) == (1100, 1004)

    line = order.lines.get()
    left = Entries(lines=[LineEntry(line.pk, "left", "No belt in stock.", LATER)])
    amend(order, in_farm.manager, entered=left)
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours, belt.met_hours) == (1000, 900, 900)
    assert belt.last_on == date(2026, 1, 7)
    assert (belt.put_off_until, belt.put_off_reason, belt.likely) == (LATER, "No belt in stock.", None)
    line.refresh_from_db()
    assert (line.outcome, line.done_hours, line.done_on) == ("left", None, None)
    machine.refresh_from_db()
    assert machine.projection_wanted_at is not None
    refresh_duties(machine_ids=[machine.pk])
    belt.refresh_from_db()
    assert belt.mark_hours == 1000


def test_work_that_was_done_after_all_moves_the_mark(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    order = close(in_farm, order, outcome="left", reason="No belt.", put_off_until=LATER)
    amend(order, in_farm.technician, outcome="done", found="8")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours, belt.last_on) == (1100, 1004, date(2026, 5, 4))
    assert (belt.put_off_until, belt.put_off_reason) == (None, "")


def test_left_long_ago_can_be_corrected_when_its_day_has_passed(in_farm, machine, belt, clock):
    order = started(in_farm, machine, belt)
    order = close(in_farm, order, outcome="left", reason="No belt.", put_off_until=LATER)
    clock.move_to(CLOSED + timedelta(days=60))
    amend(
        order,
        in_farm.manager,
        outcome="left",
        reason="No belt.",
        put_off_until=LATER,
        note="Belt ordered.",
    )
    belt.refresh_from_db()
    assert (belt.put_off_until, belt.mark_hours) == (LATER, 1000)


def test_a_once_only_task_that_was_not_done_is_due_again(in_farm, machine):
    duty = DutyFactory(machine=machine, mark_hours=D(1000), task__title="First oil change")
    IntervalFactory(task=duty.task, every_hours=None, first_hours=D(1000), once=True)
    order = close(in_farm, started(in_farm, machine, duty))
    duty.refresh_from_db()
    assert not duty.active
    amend(order, in_farm.manager, outcome="left", reason="No oil.", put_off_until=LATER)
    duty.refresh_from_db()
    assert (duty.active, duty.mark_hours, duty.last_hours) == (True, 1000, None)


def test_the_orders_closed_since_take_effect_again_after_the_corrected_one(in_farm, machine, belt, clock):
    first = close(in_farm, started(in_farm, machine, belt), found="8")
    clock.move_to(CLOSED + timedelta(days=20))
    machine.refresh_from_db()
    belt.refresh_from_db()
    second = close(in_farm, started(in_farm, machine, belt), found="8", hours="1090")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.met_hours, belt.last_hours) == (1190, 1100, 1090)

    # the first was not done: the second, at 1090 h, then met the mark at 1000 (14 CFR 91.409(b): late
    # hours count into the next 100)
    amend(first, in_farm.manager, outcome="left", reason="No belt.", put_off_until=LATER)
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.met_hours, belt.last_hours) == (1100, 1000, 1090)
    assert (belt.put_off_until, belt.last_on) == (None, date(2026, 5, 24))

    # and back: as if nothing had happened
    first.refresh_from_db()
    amend(first, in_farm.manager, outcome="done", found="8")
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.met_hours, belt.last_hours) == (1190, 1100, 1090)
    second.refresh_from_db()
    assert second.lines.get().done_hours == 1090


def test_an_order_closed_before_the_duty_was_kept_goes_by_the_work_before_it(in_farm, machine, belt, clock):
    close(in_farm, started(in_farm, machine, belt), found="8")
    clock.move_to(CLOSED + timedelta(days=20))
    belt.refresh_from_db()
    second = close(in_farm, started(in_farm, machine, belt), found="8", hours="1104")
    Line.objects.update(duty_before=None)
    amend(second, in_farm.manager, outcome="left", reason="No belt.", put_off_until=date(2026, 6, 20))
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours, belt.met_hours) == (1100, 1004, 1000)


def test_not_fitted_taken_back_puts_the_fitment_and_its_task_back(in_farm, machine):
    loader = FitmentFactory(organisation=in_farm.organisation, name="loader")
    machine.fitments.add(loader)
    duty = task_due(machine, "Grease the loader")
    duty.task.needs.add(loader)
    order = close(in_farm, started(in_farm, machine, duty), outcome="not fitted")
    duty.refresh_from_db()
    assert (duty.active, machine.fitments.count()) == (False, 0)

    amend(order, in_farm.manager, outcome="done")
    duty.refresh_from_db()
    assert (duty.active, duty.mark_hours, list(machine.fitments.all())) == (True, 1100, [loader])

    order.refresh_from_db()
    amend(order, in_farm.manager, outcome="not fitted")
    duty.refresh_from_db()
    assert (duty.active, duty.last_hours, machine.fitments.count()) == (False, None, 0)


def test_a_fault_said_to_be_put_right_is_open_again(in_farm, machine):
    fault = DefectFactory(machine=machine, text="Hose leaks")
    order = workorders.plan(member=in_farm.manager, machine=machine, defects=[fault])
    order = workorders.start(order=order, member=in_farm.technician, revision=1)
    order = close(in_farm, order)
    fault.refresh_from_db()
    assert fault.fixed_at == CLOSED
    amend(order, in_farm.manager, outcome="referred", reason="Needs a press.")
    fault.refresh_from_db()
    assert fault.fixed_at is None
    order.refresh_from_db()
    amend(order, in_farm.manager, outcome="done")
    fault.refresh_from_db()
    assert fault.fixed_at == CLOSED


def test_an_attachments_work_keeps_the_hours_it_had_then(in_farm, machine, clock):
    loader = AttachmentFactory(organisation=in_farm.organisation, yard=in_farm.yard, hours_before=D(200))
    attachments.mount(
        attachment=loader, machine=machine, member=in_farm.manager, at=CLOSED - timedelta(days=5)
    )
    duty = DutyFactory(machine=loader.machine_ptr, mark_hours=D(200), task__title="Grease pins")
    IntervalFactory(task=duty.task, every_hours=D(50))
    order = close(in_farm, started(in_farm, machine, duty))
    at_close = order.lines.get().done_hours
    assert at_close > 200

    clock.move_to(CLOSED + timedelta(days=10))
    ReadingFactory(machine=machine, taken_at=CLOSED + timedelta(days=9), shows=D(1060))
    amend(order, in_farm.manager, note="Two pins dry.")
    assert order.lines.get().done_hours == at_close
    duty.refresh_from_db()
    assert duty.last_hours == at_close


# ------------------------------------------------------------------ hours and safety


@pytest.mark.parametrize("role", ["technician", "manager"])
def test_the_meters_figure_is_corrected_by_a_new_reading_and_the_marks_follow(in_farm, machine, belt, role):
    order = close(in_farm, started(in_farm, machine, belt), found="8", hours="1040")
    amend(order, getattr(in_farm, role), found="8", hours="1004", why="Read the wrong line.")
    order.refresh_from_db()
    belt.refresh_from_db()
    machine.refresh_from_db()
    assert (order.hours_at_close, belt.last_hours, machine.hours) == (1004, 1004, 1004)
    assert order.lines.get().done_hours == 1004
    assert {(r.shows, r.state) for r in machine.readings.filter(taken_at=CLOSED)} == {
        (1040, "struck"),
        (1004, "counted"),
    }
    assert {("The hour meter showed", "1040 h", "1004 h"), ("Closed at", "1040 h", "1004 h")} <= changed(
        order
    )[0]

    # and once more, on the reading that stands now
    amend(order, getattr(in_farm, role), found="8", hours="1005")
    assert workorders.reading_of(order).shows == 1005


def test_hours_withdrawn_since_are_asked_for_anew_only_if_they_change(in_farm, machine, belt):
    order = close(in_farm, started(in_farm, machine, belt), found="8", hours="1040")
    decisions.strike(reading=workorders.reading_of(order), member=in_farm.manager, note="Another tractor's.")
    amend(order, in_farm.technician, found="7.5")  # says nothing of the hours
    order.refresh_from_db()
    assert order.hours_at_close == 1040
    with pytest.raises(NotReady) as refused:
        amend(order, in_farm.manager, found="7.5", hours="1040")
    assert [each.path for each in refused.value.problems] == [("hours",)]
    amend(order, in_farm.manager, found="7.5", hours="1004")
    order.refresh_from_db()
    assert order.hours_at_close == 1004


def test_a_safety_value_that_failed_after_all_tags_out_and_a_pass_clears_nothing(in_farm, machine):
    duty = task_due(machine, "Parking brake")
    CheckFactory(
        task=duty.task, label="Brake holds", kind="function", safety=True, unit="", lower=None, upper=None
    )
    order = close(in_farm, started(in_farm, machine, duty), found="passes")
    assert not TagOut.objects.open().exists()
    amend(order, in_farm.technician, outcome="referred", reason="Brake slips.", found="fails")
    tag_out = TagOut.objects.open().get(machine=machine)
    assert "Brake holds: fails" in tag_out.reason

    order.refresh_from_db()
    amend(order, in_farm.technician, outcome="done", found="passes")
    assert TagOut.objects.open().get() == tag_out
    assert workorders.stored(order).lines[0].checks[0].found == "passes"
    with pytest.raises(FleetError):
        retest.clear(tag_out=tag_out, reason="It said so.", re_tests={}, member=in_farm.manager)
    (failure,) = retest.failing(machine)
    again = {failure.pk: retest.ReTest("passes")}
    retest.clear(tag_out=tag_out, reason="Held on the slope.", re_tests=again, member=in_farm.manager)


def test_a_refused_correction_that_tells_of_a_failed_safety_check_tags_out(in_farm, machine):
    duty = task_due(machine, "Parking brake")
    CheckFactory(
        task=duty.task, label="Brake holds", kind="function", safety=True, unit="", lower=None, upper=None
    )
    order = close(in_farm, started(in_farm, machine, duty), found="passes")
    with pytest.raises(NotReady):
        amend(order, in_farm.technician, outcome="referred", found="fails", hours="900000")  # nor why
    assert "Brake holds: fails" in TagOut.objects.open().get(machine=machine).reason
    assert workorders.stored(order).lines[0].checks[0].found == "passes"
    assert not Amendment.objects.exists()


def test_an_unchanged_value_keeps_the_name_of_who_measured_it(in_farm, machine, belt):
    order = close(in_farm, started(in_farm, machine, belt), found="8")
    amend(order, in_farm.manager, found="8", note="Said by phone.")
    assert order.lines.get().results.get().recorded_by == in_farm.technician
    order.refresh_from_db()
    amend(order, in_farm.manager, found="8.5", note="Said by phone.")
    assert order.lines.get().results.get().recorded_by == in_farm.manager


def test_two_corrections_at_once_are_one_and_a_refusal(in_farm, machine, belt):
    order = close(in_farm, started(in_farm, machine, belt), found="8")
    stale = entries(order, found="7.8", hours=None)
    amend(order, in_farm.manager, found="7.5")
    with pytest.raises(Stale):
        amend(order, in_farm.technician, entered=stale)
