"""A safety check that failed is never lost: not with what is refused, corrected or cancelled."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from fleet.core.errors import FleetError, WrongState
from fleet.models import Reading, TagOut
from servicing import gate, workorders
from servicing.measurements import retest
from servicing.measurements.retest import ReTest
from servicing.models import CheckResult, RefusedEntries, SafetyFailure
from servicing.workorders import CheckEntry, Entries, LineEntry, NotReady, OrderMoved, OrderNotReadyFor
from tests.factories import CheckFactory, DutyFactory, IntervalFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
LATER = date(2026, 5, 20)
WORDS = {"kind": "function", "unit": "", "lower": None, "upper": None}
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def duty_with(machine, title, **check):
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title=title)
    IntervalFactory(task=duty.task)
    CheckFactory(task=duty.task, **check)
    return duty


@pytest.fixture
def brake(machine):
    """Passed or failed, a safety check."""
    return duty_with(machine, "Parking brake", label="Brake holds", safety=True, **WORDS)


@pytest.fixture
def belt(machine):
    """7 to 9 mm, nothing that keeps it from use."""
    return duty_with(machine, "Fan belt", label="Belt deflection", lower=Decimal(7), upper=Decimal(9))


@pytest.fixture
def order(in_farm, machine, brake, belt):
    planned = workorders.plan(member=in_farm.manager, machine=machine, duties=[brake, belt])
    return workorders.start(
        order=planned, member=in_farm.technician, revision=1, now=NOW - timedelta(hours=2)
    )


def entry(order, duty, found="", left="", **more):
    line = order.lines.get(duty=duty)
    return LineEntry(line.pk, checks=[CheckEntry(line.task.checks.get().pk, found=found, left=left)], **more)


def fails(order, brake, **more):
    return entry(order, brake, "fails", **more)


def send(farm, order, *lines, process=workorders.record, revision=None, **more):
    now = type(order).objects.get(pk=order.pk)
    return process(
        order=now,
        member=farm.technician,
        revision=now.revision if revision is None else revision,
        entries=Entries(lines=lines, **more),
    )


def hold_and_cancel(farm, order):
    order = type(order).objects.get(pk=order.pk)
    order = workorders.hold(
        order=order, member=farm.technician, revision=order.revision, reason="waits for shoes"
    )
    return workorders.cancel(
        order=order, member=farm.manager, revision=order.revision, reason="made in error"
    )


def the_tag(machine):
    """The one open tag-out, by what it says."""
    return TagOut.objects.open().get(machine=machine).reason


# ------------------------------------------------------------------ what is missing or wrong elsewhere


@pytest.mark.parametrize(
    "more",
    [
        {"outcome": "deferred", "reason": "no shoes"},
        {"outcome": "deferred"},
        {"outcome": "deferred", "reason": "no shoes", "deferred_until": date(2026, 5, 4)},
        {"outcome": "referred"},
        {"outcome": "thrown away"},
    ],
    ids=["without a day", "without both", "until today", "referred without", "no outcome"],
)
def test_it_is_kept_and_tags_out_though_its_line_is_refused(in_farm, machine, order, brake, more):
    with pytest.raises(NotReady) as refused:
        send(in_farm, order, fails(order, brake, **more))
    assert {each.path[-1] for each in refused.value.problems} <= {"reason", "deferred_until", "outcome"}
    assert the_tag(machine) == f"Order {order.number}, check failed: Brake holds: fails"
    assert CheckResult.objects.get().as_found == "fails", "the order's record has it"
    order.refresh_from_db()
    assert (order.revision, refused.value.revision) == (3, 3)
    assert order.lines.get(duty=brake).outcome == "", "what was refused isn't kept"

    hold_and_cancel(in_farm, order)
    assert gate.answer(machine).verdict == gate.Verdict.TAGGED_OUT
    assert [each.as_found for each in retest.failing(machine)] == ["fails"]


@pytest.mark.parametrize("wrong", ["seven", "1,204", "7.1234567"])
def test_so_it_is_beside_a_number_that_cannot_be_read(in_farm, machine, order, brake, belt, wrong):
    with pytest.raises(NotReady) as refused:
        send(in_farm, order, fails(order, brake), entry(order, belt, wrong))
    assert [each.path[-1] for each in refused.value.problems] == ["found"]
    assert "Brake holds" in the_tag(machine)
    assert [each.label for each in CheckResult.objects.all()] == ["Brake holds"]


@pytest.mark.parametrize(("found", "left"), [("fails", "perhaps"), ("perhaps", "fails")])
def test_so_it_is_where_its_own_other_value_cannot_be_read(in_farm, machine, order, brake, found, left):
    with pytest.raises(NotReady):
        send(in_farm, order, entry(order, brake, found, left))
    assert "Brake holds: fails" in the_tag(machine)


def test_what_passes_as_left_beside_something_unread_says_nothing_yet(in_farm, machine, order, brake):
    with pytest.raises(NotReady):
        send(in_farm, order, entry(order, brake, "perhaps", "passes"))
    assert not TagOut.objects.exists()
    assert not CheckResult.objects.exists()


def test_so_it_is_where_it_was_entered_twice(in_farm, machine, order, brake):
    both = fails(order, brake)
    both = replace(both, checks=[*both.checks, replace(both.checks[0], found="passes")])
    with pytest.raises(NotReady):
        send(in_farm, order, both)
    assert "Brake holds" in the_tag(machine)
    assert CheckResult.objects.get().as_found == "fails"


@pytest.mark.parametrize("process", [workorders.record, workorders.close])
def test_sent_again_it_is_the_same_failure(in_farm, machine, order, brake, process):
    for _ in range(3):
        with pytest.raises(NotReady):
            send(in_farm, order, fails(order, brake, outcome="deferred"), process=process)
    assert TagOut.objects.count() == SafetyFailure.objects.count() == 1
    order.refresh_from_db()
    assert order.revision == 3, "nothing changed by the second"


# ------------------------------------------------------------------ closing


@pytest.mark.parametrize("hours", [None, Decimal(900), Decimal(90000)], ids=["none", "too few", "held"])
def test_a_closing_refused_for_its_hours_keeps_it_and_no_reading(in_farm, machine, order, brake, belt, hours):
    lines = [
        fails(order, brake, outcome="referred", reason="linings"),
        entry(order, belt, "8", outcome="done"),
    ]
    with pytest.raises(NotReady) as refused:
        send(in_farm, order, *lines, process=workorders.close, hours=hours)
    assert [each.path for each in refused.value.problems] == [("hours",)]
    assert "Brake holds" in the_tag(machine)
    order.refresh_from_db()
    machine.refresh_from_db()
    assert (order.state, machine.hours) == ("started", 1000)
    assert not Reading.objects.filter(source="order").exists()
    assert order.lines.get(duty=brake).outcome == ""
    assert [each.label for each in CheckResult.objects.all()] == ["Brake holds"]
    closed = send(in_farm, order, *lines, process=workorders.close, hours=Decimal(1004))
    assert (closed.state, TagOut.objects.count()) == ("closed", 1)


def test_put_right_before_it_was_sent_it_tags_nothing_out(in_farm, machine, order, brake):
    with pytest.raises(NotReady):
        send(in_farm, order, entry(order, brake, "fails", "passes", outcome="deferred"))
    assert not TagOut.objects.exists()
    assert not SafetyFailure.objects.exists()


def test_what_its_task_says_tags_out_is_kept_and_tags_out_at_the_orders_end(in_farm, machine, order, belt):
    belt.task.outside = "tag_out"
    belt.task.save()
    with pytest.raises(NotReady):
        send(in_farm, order, entry(order, belt, "11", outcome="deferred"))
    assert CheckResult.objects.get().as_found == "11 mm"
    assert not TagOut.objects.exists(), "it may be put right yet"
    hold_and_cancel(in_farm, order)
    assert the_tag(machine).endswith("Belt deflection: 11 mm (limit 7 to 9 mm)")


def test_what_its_task_says_tags_out_does_so_where_it_comes_after_the_end(in_farm, machine, order, belt):
    belt.task.outside = "tag_out"
    belt.task.save()
    late = entry(order, belt, "11")
    hold_and_cancel(in_farm, order)
    with pytest.raises(OrderMoved):
        send(in_farm, order, late, revision=2)
    assert the_tag(machine).endswith("Belt deflection: 11 mm (limit 7 to 9 mm)")


# ------------------------------------------------------------------ orders that have moved on


def test_on_a_stale_page_it_tags_out_and_the_others_value_stays(in_farm, machine, order, brake):
    send(in_farm, order, entry(order, brake, "passes"))
    with pytest.raises(OrderMoved):
        send(in_farm, order, fails(order, brake), revision=2)
    assert "Brake holds: fails" in the_tag(machine)
    assert CheckResult.objects.get().as_found == "passes"
    assert retest.failing(machine)[0].recorded_by == in_farm.technician
    with pytest.raises(OrderMoved):
        send(in_farm, order, fails(order, brake), revision=2)
    assert TagOut.objects.count() == 1


@pytest.mark.parametrize("state", ["on hold", "cancelled", "closed"])
def test_sent_late_to_an_order_that_takes_no_more_it_tags_out(in_farm, machine, order, brake, belt, state):
    late = fails(order, brake)
    if state == "closed":
        lines = [entry(order, brake, "passes", outcome="done"), entry(order, belt, "8", outcome="done")]
        send(in_farm, order, *lines, process=workorders.close, hours=Decimal(1004))
    elif state == "on hold":
        workorders.hold(order=order, member=in_farm.technician, revision=2, reason="rain")
    else:
        hold_and_cancel(in_farm, order)
    for revision, error in ((2, OrderMoved), (None, OrderNotReadyFor)):
        with pytest.raises(error):
            send(in_farm, order, late, revision=revision)
    assert "Brake holds: fails" in the_tag(machine)
    assert gate.answer(machine).verdict == gate.Verdict.TAGGED_OUT


def test_an_old_page_does_not_tag_out_again_what_was_put_right_and_cleared(in_farm, machine, order, brake):
    send(in_farm, order, fails(order, brake))
    re_test(in_farm, machine, "passes")
    send(in_farm, order, entry(order, brake, "fails", "passes"))
    with pytest.raises(OrderMoved):
        send(in_farm, order, fails(order, brake), revision=3)
    assert not TagOut.objects.open().exists()
    with pytest.raises(OrderMoved):
        send(in_farm, order, entry(order, brake, "fails", "fails"), revision=3)
    assert "Brake holds" in the_tag(machine)


# ------------------------------------------------------------------ corrections, and the re-test


def re_test(farm, machine, typed, reason="Shoes changed"):
    tag_out = TagOut.objects.open().get(machine=machine)
    failures = retest.failing(machine)
    return retest.clear(
        tag_out=tag_out,
        member=farm.manager,
        reason=reason,
        re_tests={each.pk: ReTest(typed) for each in failures},
    )


@pytest.mark.parametrize(("found", "left"), [("passes", ""), ("fails", "passes")])
def test_a_correction_on_the_order_does_not_clear_it(in_farm, machine, order, brake, found, left):
    send(in_farm, order, fails(order, brake))
    send(in_farm, order, entry(order, brake, found, left))
    assert "Brake holds" in the_tag(machine)
    with pytest.raises(FleetError, match="Repeat this check"):
        retest.clear(tag_out=TagOut.objects.get(), member=in_farm.manager, reason="It says so", re_tests={})
    with pytest.raises(FleetError, match="still fails"):
        re_test(in_farm, machine, "fails")
    cleared = re_test(in_farm, machine, "passes")
    assert cleared.clear_reason == "Re-test passed: Brake holds: passes. Shoes changed"
    kept = SafetyFailure.objects.get()
    assert (kept.re_test, kept.re_tested_by, kept.re_tested_at) == ("passes", in_farm.manager, NOW)


def test_entries_that_leave_it_out_do_not_erase_it(in_farm, order, brake, belt):
    send(in_farm, order, fails(order, brake), entry(order, belt, "8"))
    send(in_farm, order)
    assert [each.as_found for each in CheckResult.objects.all()] == ["fails"], "the belt's value is gone"
    send(in_farm, order, entry(order, brake, "passes"))
    send(in_farm, order)
    assert not CheckResult.objects.exists()


def test_it_stands_though_the_line_or_its_duty_is_gone(in_farm, machine, order, brake):
    send(in_farm, order, fails(order, brake))
    order.lines.get(duty=brake).delete()
    assert [each.label for each in retest.failing(machine)] == ["Brake holds"]
    assert "Brake holds" in the_tag(machine)


def test_recorded_once_more_after_the_re_test_it_is_no_news_but_found_again_it_is(
    in_farm, machine, order, brake, belt
):
    send(in_farm, order, fails(order, brake))
    re_test(in_farm, machine, "passes")
    send(in_farm, order, fails(order, brake), entry(order, belt, "8"))
    assert not TagOut.objects.open().exists()
    send(in_farm, order, entry(order, brake, "passes"))
    send(in_farm, order, fails(order, brake))
    assert TagOut.objects.open().count() == 1


def test_found_on_two_orders_it_is_one_tag_out_and_one_re_test(in_farm, machine, order, brake):
    send(in_farm, order, fails(order, brake))
    hold_and_cancel(in_farm, order)
    again = workorders.plan(member=in_farm.manager, machine=machine, duties=[brake])
    again = workorders.start(order=again, member=in_farm.technician, revision=1)
    send(in_farm, again, fails(again, brake))
    assert (TagOut.objects.count(), SafetyFailure.objects.count()) == (1, 2)
    assert [each.order for each in retest.failing(machine)] == [again]
    re_test(in_farm, machine, "passes")
    assert retest.failing(machine) == []


# ------------------------------------------------------------------ who is told


def test_what_was_refused_is_told_until_it_is_accepted(in_farm, order, brake, belt, time_machine):
    with pytest.raises(NotReady):
        send(in_farm, order, fails(order, brake, outcome="deferred"), entry(order, belt, "abc"))
    time_machine.shift(600)
    with pytest.raises(NotReady):
        send(in_farm, order, fails(order, brake, outcome="deferred"))
    told = RefusedEntries.objects.get()
    assert (told.order, told.member, told.since) == (order, in_farm.technician, NOW)
    assert told.problems == [
        {"at": "Parking brake: why it is deferred or referred", "why": "Say why it is deferred."},
        {"at": "Parking brake: deferred until", "why": "Say until which day it is deferred."},
    ]
    send(in_farm, order, fails(order, brake, outcome="deferred", reason="no shoes", deferred_until=LATER))
    assert not RefusedEntries.objects.exists()


def test_a_conflict_is_told_too_and_the_others_entries_do_not_hide_it(in_farm, order, belt):
    with pytest.raises(OrderMoved):
        send(in_farm, order, entry(order, belt, "8"), revision=1)
    workorders.record(order=order, member=in_farm.manager, revision=2, entries=Entries())
    assert "has changed since you opened it" in RefusedEntries.objects.get().problems[0]["why"]


def test_nobody_may_use_this_to_reach_an_order_that_is_not_theirs(in_farm, stranger, order, brake):
    with pytest.raises(FleetError):
        workorders.refuse(
            order=order, member=stranger.manager, entries=Entries(lines=[fails(order, brake)]), why="x"
        )
    with pytest.raises(FleetError):
        workorders.refuse(
            order=order, member=in_farm.counter, entries=Entries(lines=[fails(order, brake)]), why="x"
        )
    assert not TagOut.objects.exists()


def test_a_planned_order_takes_nothing_but_the_failure_counts(in_farm, machine, brake):
    planned = workorders.plan(member=in_farm.manager, machine=machine, duties=[brake])
    with pytest.raises(WrongState):
        send(in_farm, planned, fails(planned, brake))
    assert "Brake holds" in the_tag(machine)
