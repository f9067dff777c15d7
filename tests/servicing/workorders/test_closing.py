"""Entering what was done on an order and closing it: outcomes, limits, tag-outs, marks, stock and cost."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.core.errors import NotAllowed, Stale, WrongState
from fleet.models import Reading, TagOut
from servicing import workorders
from servicing.ledger.costs import cost
from servicing.models import CheckResult, Duty, Line, WorkOrder
from servicing.workorders import CheckEntry, Entries, LabourEntry, LineEntry, NotReady, PartEntry
from tests.factories import (
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

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
LATER = date(2026, 5, 20)


def D(text):
    return Decimal(text)


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


@pytest.fixture
def machine(in_farm):
    machine = MachineFactory(
        organisation=in_farm.organisation, yard=in_farm.yard, tag="T-07", hours=D("1000"), hours_at=NOW
    )
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=10), shows=D("1000"))
    return machine


@pytest.fixture
def technician(in_farm):
    return TechnicianFactory(member=in_farm.technician, hourly_rate=D("45.50"))


@pytest.fixture
def belt(machine):
    """A duty with one measured check, 7 to 9 mm."""
    duty = DutyFactory(machine=machine, mark_hours=D(1000), task__title="Fan belt")
    IntervalFactory(task=duty.task, every_hours=D(100))
    CheckFactory(task=duty.task, label="Belt deflection", unit="mm", lower=D(7), upper=D(9))
    return duty


@pytest.fixture
def brake(machine):
    """A duty with one safety check, passed or failed."""
    duty = DutyFactory(machine=machine, mark_hours=D(1000), task__title="Parking brake")
    IntervalFactory(task=duty.task, every_hours=D(100))
    CheckFactory(
        task=duty.task, label="Brake holds", kind="function", safety=True, unit="", lower=None, upper=None
    )
    return duty


def started(farm, machine, *duties, **kwargs):
    order = workorders.plan(member=farm.manager, machine=machine, duties=duties, **kwargs)
    return workorders.start(order=order, member=farm.technician, revision=1, now=NOW - timedelta(hours=2))


def check(line, found="", found_unit="", left="", left_unit=""):
    return CheckEntry(line.task.checks.get().pk, found, found_unit, left, left_unit)


def entries(order, *values, outcome="done", hours="1004", **kwargs):
    """Entries with the same outcome for every line, and one check entry a line."""
    lines = [
        LineEntry(line.pk, outcome, checks=[check(line, *value)] if value else [])
        for line, value in zip(order.lines.all(), values or [()] * order.lines.count(), strict=True)
    ]
    return Entries(lines=lines, hours=D(hours) if hours else None, **kwargs)


def close(farm, order, entered, **kwargs):
    return workorders.close(
        order=order, member=farm.technician, revision=order.revision, entries=entered, **kwargs
    )


def problems(farm, order, entered):
    with pytest.raises(NotReady) as refused:
        close(farm, order, entered)
    assert WorkOrder.objects.get(pk=order.pk).state == "started"
    return {"-".join(str(step) for step in each.path): each.sentence for each in refused.value.problems}


# ------------------------------------------------------------------ a whole order


@pytest.mark.parametrize(
    ("done", "next_mark"),
    [
        # 14 CFR 91.409(b): hours run late "must be included in computing the next 100 hours"
        ("1004", "1100"),
        ("1010", "1100"),
        ("1010.1", "1100"),
        # early work earns no credit ("within the preceding 100 hours"); this reading is from memory
        ("996", "1096"),
    ],
)
def test_the_100_hour_rule_through_a_whole_order(in_farm, machine, belt, done, next_mark):
    Reading.objects.filter(machine=machine).update(shows=D("990"), hours=D("990"))
    machine.hours = D("990")
    machine.save()
    order = started(in_farm, machine, belt)
    closed = close(in_farm, order, entries(order, ("8",), hours=done))

    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours, belt.last_on) == (D(next_mark), D(done), date(2026, 5, 4))
    line = closed.lines.get()
    assert (line.done_hours, line.done_on, line.mark_hours, line.open) == (
        D(done),
        date(2026, 5, 4),
        1000,
        False,
    )
    assert (closed.state, closed.closed_at, closed.closed_by) == ("closed", NOW, in_farm.technician)
    assert closed.hours_at_close == D(done)
    machine.refresh_from_db()
    assert (machine.hours, machine.in_shop_since) == (D(done), None)
    reading = Reading.objects.get(machine=machine, source="order")
    assert (reading.shows, reading.state, reading.taken_by) == (D(done), "counted", in_farm.technician)


def test_faa_test_item_3302_5_done_at_3309_5_is_next_due_at_3402_5(in_farm, machine, belt):
    # FAA airman knowledge test item on 14 CFR 91.409(b)
    belt.mark_hours = D("3302.5")
    belt.save()
    Reading.objects.filter(machine=machine).update(shows=D("3300"), hours=D("3300"))
    order = started(in_farm, machine, belt)
    close(in_farm, order, entries(order, ("8",), hours="3309.5"))
    belt.refresh_from_db()
    assert belt.mark_hours == D("3402.5")


# ------------------------------------------------------------------ limits


@pytest.mark.parametrize(
    ("limit", "unit", "found", "found_unit", "passes"),
    [
        # NIST SP 811: 1 in = 25.4 mm exactly, so 0.3 in is 7.62 mm
        ("7.62", "mm", "0.3", "in", True),
        ("7.62", "mm", "0.300001", "in", False),
        ("7.62", "mm", "7.62", "mm", True),
        ("7.62", "mm", "7.620001", "mm", False),
        ("0.3", "in", "7.62", "mm", True),
        ("0.3", "in", "7.620001", "mm", False),
        ("0.3", "in", "7.6", "mm", True),
        # NIST SP 811: 1 lbf·ft = 1.3558179483314004 N·m, so 90 lbf·ft is 122.02361534... N·m
        ("122.023616", "N·m", "90", "lbf·ft", True),
        ("122.023615", "N·m", "90", "lbf·ft", False),
        ("90", "lbf·ft", "122.023615", "N·m", True),
        ("90", "lbf·ft", "122.023616", "N·m", False),
    ],
)
def test_a_value_at_the_limit_passes_and_one_last_digit_beyond_does_not(
    in_farm, machine, belt, limit, unit, found, found_unit, passes
):
    belt.task.checks.update(unit=unit, lower=None, upper=D(limit))
    order = started(in_farm, machine, belt)
    entered = entries(order, (found, found_unit, "0.1", unit))
    close(in_farm, order, entered)
    result = CheckResult.objects.get()
    assert result.found_passes is passes
    assert result.left_passes is True
    assert (result.as_found, result.found_unit) == (f"{found} {found_unit}", found_unit), "kept as typed"


def test_a_result_keeps_the_limits_that_held_then(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    close(in_farm, order, entries(order, ("8.5",)))
    belt.task.checks.update(upper=D(8))
    result = CheckResult.objects.get()
    assert (result.label, result.lower, result.upper, result.unit) == ("Belt deflection", 7, 9, "mm")
    assert (result.recorded_by, result.recorded_at) == (in_farm.technician, NOW)


def test_out_of_limits_as_found_demands_as_left(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    line = order.lines.get()
    left = f"lines-{line.pk}-checks-{belt.task.checks.get().pk}-left"
    assert problems(in_farm, order, entries(order, ("11",)))[left].startswith("Out of limits as found")
    assert problems(in_farm, order, entries(order, ("11", "", "9.5")))[left].startswith("Still out of limits")
    closed = close(in_farm, order, entries(order, ("11", "", "8"), outcome="adjusted"))
    assert closed.lines.get().results.get().passes is True


@pytest.mark.parametrize(
    "outcome",
    [{"outcome": "left", "put_off_until": LATER}, {"outcome": "referred"}],
    ids=["left", "referred"],
)
def test_what_is_left_or_referred_may_stay_out_of_limits(in_farm, machine, belt, outcome):
    order = started(in_farm, machine, belt)
    line = order.lines.get()
    entered = Entries(
        lines=[LineEntry(line.pk, reason="belt cracked", checks=[check(line, "11")], **outcome)],
        hours=D(1004),
    )
    close(in_farm, order, entered)
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours) == (1000, None), "the work isn't done, so the mark stays"
    assert line.results.get().found_passes is False
    assert not TagOut.objects.exists()
    assert belt.put_off_until == outcome.get("put_off_until")


# ------------------------------------------------------------------ tag-outs


def test_a_failed_safety_check_tags_the_machine_out_at_once(in_farm, machine, brake, belt):
    order = started(in_farm, machine, brake, belt)
    brake_line, belt_line = order.lines.get(duty=brake), order.lines.get(duty=belt)
    entered = Entries(
        lines=[
            LineEntry(brake_line.pk, "done", checks=[check(brake_line, "fails", left="fails")]),
            LineEntry(belt_line.pk, "done", checks=[check(belt_line, "8")]),
        ],
        hours=D(1004),
    )
    close(in_farm, order, entered)
    tag_out = TagOut.objects.get(machine=machine)
    assert tag_out.reason == f"Order {order.number}, check failed: Brake holds: fails"
    assert tag_out.placed_by == in_farm.technician
    machine.refresh_from_db()
    assert machine.state == "tagged out"


def test_a_safety_check_put_right_tags_nothing_out(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    close(in_farm, order, entries(order, ("fails", "", "passes"), outcome="adjusted"))
    assert not TagOut.objects.exists()


@pytest.mark.parametrize("outcome", ["left", "referred"])
def test_a_safety_check_that_failed_on_work_left_tags_out_too(in_farm, machine, brake, outcome):
    order = started(in_farm, machine, brake)
    line = order.lines.get()
    entry = LineEntry(line.pk, outcome, "no linings", LATER, checks=[check(line, "fails")])
    close(in_farm, order, Entries(lines=[entry], hours=D(1004)))
    assert TagOut.objects.get().machine == machine


def test_a_task_may_say_that_outside_the_limits_the_machine_is_tagged_out(in_farm, machine, belt):
    belt.task.outside = "tag_out"
    belt.task.save()
    order = started(in_farm, machine, belt)
    close(in_farm, order, entries(order, ("11", "", "10")))
    assert TagOut.objects.get().reason.endswith("Belt deflection: 10 mm (limit 7 to 9 mm)")


def test_a_failed_safety_check_stands_when_the_order_is_withdrawn(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    order = workorders.record(
        order=order, member=in_farm.technician, revision=2, entries=entries(order, ("fails",), hours=None)
    )
    workorders.withdraw(order=order, member=in_farm.manager, revision=3, reason="wrong machine")
    assert "Brake holds" in TagOut.objects.open().get(machine=machine).reason


def test_a_safety_check_recorded_as_failed_tags_out_once_before_the_order_is_closed(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    failed = entries(order, ("fails",), hours=None)
    order = workorders.record(order=order, member=in_farm.technician, revision=2, entries=failed)
    assert order.state == "started"
    placed = TagOut.objects.get()
    assert (placed.machine, placed.placed_by) == (machine, in_farm.technician)
    assert placed.reason == f"Order {order.number}, check failed: Brake holds: fails"
    order = workorders.record(order=order, member=in_farm.manager, revision=3, entries=failed)
    close(in_farm, order, entries(order, ("fails", "", "fails")))
    assert TagOut.objects.get() == placed, "the same failure is one tag-out"


def test_a_safety_check_that_fails_again_after_it_passed_is_tagged_out_throughout(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    for found, left in (("fails", ""), ("fails", "passes"), ("fails", "fails")):
        order = workorders.record(
            order=order,
            member=in_farm.technician,
            revision=order.revision,
            entries=entries(order, (found, "", left), hours=None),
        )
        assert TagOut.objects.open().count() == 1, "only the re-test clears it"


def test_a_refused_closing_leaves_no_trace_but_the_failed_safety_check(in_farm, machine, brake, belt):
    order = started(in_farm, machine, brake, belt)
    brake_line = order.lines.get(duty=brake)
    part = PartFactory(organisation=in_farm.organisation, in_stock=D(5))
    entered = Entries(
        lines=[LineEntry(brake_line.pk, "done", checks=[check(brake_line, "fails", left="fails")])],
        parts=[PartEntry(part.pk, D(1))],
        hours=D(1004),
    )
    assert list(problems(in_farm, order, entered)) == [f"lines-{order.lines.get(duty=belt).pk}-outcome"]
    part.refresh_from_db()
    machine.refresh_from_db()
    assert part.in_stock == 5
    assert machine.hours == 1000
    assert not Reading.objects.filter(source="order").exists()
    assert set(order.lines.values_list("outcome", flat=True)) == {""}
    assert TagOut.objects.get().reason.endswith("Brake holds: fails")
    assert CheckResult.objects.get().label == "Brake holds"


# ------------------------------------------------------------------ everything wrong is named at once


def test_every_problem_is_named_at_its_field(in_farm, machine, belt, brake):
    order = started(in_farm, machine, brake, belt)
    one, two = order.lines.get(duty=brake), order.lines.get(duty=belt)
    number = belt.task.checks.get().pk
    entered = Entries(
        lines=[
            LineEntry(one.pk, "left", put_off_until=date(2026, 5, 4)),
            LineEntry(two.pk, "done", checks=[check(two, "abc")]),
        ],
        parts=[PartEntry(10**6, D(1))],
        labour=[LabourEntry(10**6, 5)],
    )
    found = problems(in_farm, order, entered)
    assert found == {
        f"lines-{one.pk}-reason": "Say why it was left.",
        f"lines-{one.pk}-put_off_until": "Name a day after today.",
        f"lines-{two.pk}-checks-{number}-found": "“abc” is not a number; write it like 7.5.",
        "parts-1000000-part": "There is no such part.",
        "labour-1000000-technician": "There is no such technician.",
        "hours": "Enter what the hour meter shows.",
    }


def test_outcomes_and_values_are_demanded(in_farm, machine, belt, brake):
    order = started(in_farm, machine, brake, belt)
    one, two = order.lines.get(duty=brake), order.lines.get(duty=belt)
    entered = Entries(lines=[LineEntry(two.pk, "done")], hours=D(1004))
    assert problems(in_farm, order, entered) == {
        f"lines-{one.pk}-outcome": "Choose what came of it.",
        f"lines-{two.pk}-checks-{belt.task.checks.get().pk}-found": "Enter what you found.",
    }
    entered = Entries(lines=[LineEntry(one.pk, "referred"), LineEntry(two.pk, "mended")], hours=D(1004))
    assert problems(in_farm, order, entered) == {
        f"lines-{one.pk}-reason": "Say what the dealer or licensed shop is to look at.",
        f"lines-{two.pk}-outcome": "Choose one of: done, adjusted, left, referred, not fitted.",
    }


@pytest.mark.parametrize(
    ("values", "says"),
    [
        (("1,204",), "can be read in two ways"),
        (("8", "kPa"), "The limit is in mm; enter the value in mm, in"),
        (("0.1234567",), "at most 8 digits before the point and 6 after"),
    ],
)
def test_values_that_cannot_be_judged(in_farm, machine, belt, values, says):
    order = started(in_farm, machine, belt)
    assert [says in sentence for sentence in problems(in_farm, order, entries(order, values)).values()] == [
        True
    ]


def test_a_word_that_is_no_choice(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    assert list(problems(in_farm, order, entries(order, ("maybe",))).values()) == [
        "Choose one of: passes, fails."
    ]


def test_lines_and_checks_of_another_order_are_refused(in_farm, machine, belt, brake):
    order = started(in_farm, machine, belt)
    line = order.lines.get()
    other = brake.task.checks.get().pk
    entered = Entries(
        lines=[
            LineEntry(line.pk, "done", checks=[check(line, "8"), CheckEntry(other, "passes")]),
            LineEntry(10**6, "done"),
        ],
        hours=D(1004),
    )
    assert problems(in_farm, order, entered) == {
        f"lines-{line.pk}-checks-{other}-check": "This check doesn't belong to the line.",
        "lines-1000000-line": "This line doesn't belong to the order.",
    }


# ------------------------------------------------------------------ hours at close


def test_hours_that_cannot_be_true_are_refused_with_the_reason(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    found = problems(in_farm, order, entries(order, ("8",), hours="10040"))
    assert list(found) == ["hours"]
    assert "confirm it below" in found["hours"]
    assert not Reading.objects.filter(source="order").exists()


def test_confirmed_hours_are_held_and_the_order_closes_at_the_last_counted_hours(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    closed = close(in_farm, order, entries(order, ("8",), hours="10040", hours_confirmed=True))
    assert (closed.state, closed.hours_at_close) == ("closed", 1000)
    assert Reading.objects.get(source="order").state == "held"
    belt.refresh_from_db()
    assert (belt.last_hours, belt.mark_hours) == (1000, 1100)


def test_hours_no_meter_shows_are_refused_even_if_confirmed(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    found = problems(in_farm, order, entries(order, ("8",), hours="-1", hours_confirmed=True))
    assert list(found) == ["hours"]


def test_work_finished_without_a_line_counts_when_it_was_finished(in_farm, machine, belt):
    """Finished the evening before; meanwhile the machine ran on and somebody read the meter."""
    order = started(in_farm, machine, belt)
    evening = NOW - timedelta(hours=14)
    WorkOrder.objects.filter(pk=order.pk).update(started_at=evening - timedelta(hours=2))
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(hours=1), shows=D("1010"))
    machine.refresh_from_db()
    closed = close(in_farm, order, entries(order, ("8",), hours="1004", finished_at=evening))
    assert (closed.closed_at, closed.hours_at_close) == (evening, 1004)
    assert Reading.objects.get(source="order").taken_at == evening
    line = closed.lines.get()
    assert (line.done_hours, line.done_on) == (1004, date(2026, 5, 3))
    belt.refresh_from_db()
    assert (belt.last_hours, belt.last_on) == (1004, date(2026, 5, 3))
    machine.refresh_from_db()
    assert machine.hours == 1010


@pytest.mark.parametrize("off", [timedelta(days=-3), timedelta(hours=3)])
def test_no_work_is_finished_before_its_start_nor_later_than_now(in_farm, machine, belt, off):
    order = started(in_farm, machine, belt)
    closed = close(in_farm, order, entries(order, ("8",), hours="1001", finished_at=NOW + off))
    assert closed.closed_at == (order.started_at if off < timedelta() else NOW)


# ------------------------------------------------------------------ other outcomes


def test_what_is_not_fitted_never_falls_due_again(in_farm, machine, belt):
    cab = FitmentFactory(organisation=in_farm.organisation, name="Closed cab")
    belt.task.needs.add(cab)
    machine.fitments.add(cab)
    order = started(in_farm, machine, belt)
    close(in_farm, order, entries(order, outcome="not fitted"))
    belt.refresh_from_db()
    assert not belt.active
    assert not machine.fitments.exists()


def test_not_fitted_is_only_for_what_a_machine_may_lack(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    assert "Every machine of this type" in str(problems(in_farm, order, entries(order, outcome="not fitted")))
    belt.task.needs.set(
        [FitmentFactory(organisation=in_farm.organisation, name=name) for name in ("Cab", "Cooling")]
    )
    assert "Cab and Cooling" in str(problems(in_farm, order, entries(order, outcome="not fitted")))


def test_a_defect_is_put_right_by_its_line(in_farm, machine):
    mended, left = DefectFactory(machine=machine, text="leak"), DefectFactory(machine=machine, text="dent")
    order = started(in_farm, machine, defects=[mended, left])
    one, two = mended.line, left.line
    entered = Entries(
        lines=[LineEntry(one.pk, "done"), LineEntry(two.pk, "left", "no time", LATER)], hours=D(1004)
    )
    close(in_farm, order, entered)
    mended.refresh_from_db()
    left.refresh_from_db()
    assert (mended.fixed_at, left.fixed_at) == (NOW, None)


def test_licensed_work_is_done_by_someone_licensed_or_referred(in_farm, machine, technician, belt):
    licensed = TechnicianFactory(member=in_farm.owner, licensed=True, hourly_rate=D(60))
    order = started(in_farm, machine, belt)
    belt.task.skill = "licensed"
    belt.task.save()
    line = order.lines.get()
    entered = entries(order, ("8",), labour=[LabourEntry(technician.pk, 30)])
    assert list(problems(in_farm, order, entered)) == [f"lines-{line.pk}-outcome"]
    closed = close(in_farm, order, replace(entered, labour=[LabourEntry(licensed.pk, 30)]))
    assert closed.state == "closed"


# ------------------------------------------------------------------ stock, labour, cost


def test_parts_leave_the_stock_and_cost_what_they_cost_that_day(in_farm, machine, technician, belt):
    oil = PartFactory(organisation=in_farm.organisation, unit="L", unit_cost=D("6.15"), in_stock=D(4))
    filter_ = PartFactory(organisation=in_farm.organisation, unit_cost=D("12.50"), in_stock=D(3))
    order = started(in_farm, machine, belt)
    entered = entries(
        order,
        ("8",),
        parts=[PartEntry(oil.pk, D("4.5")), PartEntry(filter_.pk, D(1)), PartEntry(filter_.pk, D(1))],
        labour=[LabourEntry(technician.pk, 50), LabourEntry(technician.pk, 15)],
    )
    closed = close(in_farm, order, entered)
    oil.refresh_from_db()
    filter_.refresh_from_db()
    assert (oil.in_stock, filter_.in_stock) == (D("-0.5"), 1)
    oil.unit_cost, technician.hourly_rate = D(9), D(90)
    oil.save()
    technician.save()
    total = cost(
        closed.parts.values_list("quantity", "unit_cost"), closed.labour.values_list("minutes", "hourly_rate")
    )
    # 4.5 × 6.15 = 27.675 and 2 × 12.50 = 25, together 52.675, half up 52.68; 65 min × 45.50 / 60 = 49.2916...
    assert (total.parts, total.labour, total.total) == (D("52.68"), D("49.29"), D("101.97"))


@pytest.mark.parametrize("quantity", ["0", "-1", "0.001", "1e9"])
def test_quantities_that_cannot_be(in_farm, machine, belt, quantity):
    part = PartFactory(organisation=in_farm.organisation)
    order = started(in_farm, machine, belt)
    entered = entries(order, ("8",), parts=[PartEntry(part.pk, D(quantity))])
    assert list(problems(in_farm, order, entered)) == [f"parts-{part.pk}-quantity"]


def test_minutes_that_cannot_be(in_farm, machine, technician, belt):
    order = started(in_farm, machine, belt)
    entered = entries(order, ("8",), labour=[LabourEntry(technician.pk, 0)])
    assert list(problems(in_farm, order, entered)) == [f"labour-{technician.pk}-minutes"]


# ------------------------------------------------------------------ saving on the way, and two people at once


def test_record_keeps_what_there_is_and_moves_nothing(in_farm, machine, technician, belt, brake, frozen):
    part = PartFactory(organisation=in_farm.organisation, in_stock=D(5))
    order = started(in_farm, machine, belt, brake)
    line = order.lines.get(duty=belt)
    entered = Entries(
        lines=[LineEntry(line.pk, "adjusted", note="new belt ordered", checks=[check(line, "11")])],
        parts=[PartEntry(part.pk, D(2))],
        labour=[LabourEntry(technician.pk, 20)],
    )
    saved = workorders.record(order=order, member=in_farm.technician, revision=2, entries=entered)
    assert (saved.state, saved.revision) == ("started", 3)
    line.refresh_from_db()
    assert (line.outcome, line.note, line.open) == ("adjusted", "new belt ordered", True)
    assert saved.parts.get().quantity == 2
    assert saved.labour.get().minutes == 20
    part.refresh_from_db()
    belt.refresh_from_db()
    assert (part.in_stock, belt.last_hours) == (5, None)

    frozen.shift(3600)
    workorders.record(order=order, member=in_farm.manager, revision=3, entries=entered)
    result = CheckResult.objects.get()
    assert (result.recorded_by, result.recorded_at) == (in_farm.technician, NOW), "the value is still theirs"


def test_record_names_what_cannot_be_kept(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    line = order.lines.get()
    with pytest.raises(NotReady) as refused:
        workorders.record(
            order=order,
            member=in_farm.technician,
            revision=2,
            entries=Entries(lines=[LineEntry(line.pk, "left")]),
        )
    assert [each.path[-1] for each in refused.value.problems] == ["reason", "put_off_until"]


def test_the_second_of_two_closings_is_told_who_was_first(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    entered = entries(order, ("8",))
    close(in_farm, order, entered)
    with pytest.raises(Stale, match=f"{in_farm.technician} closed it on 4 May at 12:00") as refused:
        workorders.close(order=order, member=in_farm.manager, revision=order.revision, entries=entered)
    assert refused.value.revision == order.revision + 1
    assert Reading.objects.filter(source="order").count() == 1


def test_only_a_started_order_is_closed(in_farm, machine, belt):
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[belt])
    with pytest.raises(WrongState, match="it is planned, for nobody yet"):
        workorders.close(order=order, member=in_farm.manager, revision=1, entries=entries(order, ("8",)))


@pytest.mark.parametrize("process", ["record", "close"])
def test_the_counter_does_not_work_on_orders(in_farm, machine, belt, process):
    order = started(in_farm, machine, belt)
    with pytest.raises(NotAllowed):
        getattr(workorders, process)(
            order=order, member=in_farm.counter, revision=2, entries=entries(order, ("8",))
        )
    assert Line.objects.get().outcome == ""


# ------------------------------------------------------------------ what it costs


@pytest.fixture
def asked_by_closing(in_farm, machine, technician, frozen):
    """Closes an order of so many lines; returns its queries, its requests for new days, and its tasks."""
    assert connection.features.supports_json_field  # SQLite is asked that once; no order does

    def asked(number, capture):
        frozen.shift(timedelta(days=1))
        duties = [DutyFactory(machine=machine, mark_hours=D(1000)) for _ in range(number)]
        for duty in duties:
            IntervalFactory(task=duty.task, every_hours=D(100))
            CheckFactory(task=duty.task, label="Play", unit="mm", lower=D(7), upper=D(9))
        order = started(in_farm, machine, *duties)
        entered = entries(
            order,
            *[("8",)] * number,
            hours=str(1000 + number),
            labour=[LabourEntry(technician.pk, 30)],
        )
        with CaptureQueriesContext(connection) as queries, capture() as after_commit:
            close(in_farm, order, entered)
        assert {duty.mark_hours for duty in Duty.objects.filter(lines__order=order)} == {D(1100)}
        requests = [each for each in queries if 'SET "projection_wanted_at"' in each["sql"]]
        return len(queries), len(requests), len(after_commit)

    return asked


def test_an_order_of_16_lines_asks_what_one_of_2_asks_and_for_new_days_once(
    asked_by_closing, django_capture_on_commit_callbacks
):
    few, *requests_of_few = asked_by_closing(2, django_capture_on_commit_callbacks)
    many, *requests_of_many = asked_by_closing(16, django_capture_on_commit_callbacks)
    assert requests_of_few == requests_of_many == [1, 1]
    assert many == few <= 46
