"""What is said of the last work moves the due point, or makes an inspection of it."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.models import Machine
from servicing import workorders
from servicing.last_done.asked import State
from servicing.last_done.say import Statement, judge, say
from servicing.last_done.typed import Said
from servicing.models import Duty, LastDone
from servicing.workorders.entries import Entries, LineEntry
from tests.servicing.duties.program_machines import NOW, TODAY, refresh

pytestmark = [pytest.mark.time_machine(NOW, tick=False), pytest.mark.usefixtures("in_farm")]
READ = (
    (datetime(2025, 6, 1, tzinfo=UTC), 2900),
    (datetime(2025, 10, 1, tzinfo=UTC), 3022),
    (datetime(2025, 12, 1, tzinfo=UTC), 3240),
)


def test_hours_said_are_counted_from(used, tell):
    """Every 100 h from work at 3190 h is 3290 h, not the next multiple, 3300 h."""
    duty = tell(used(), "oil", "3190 h")
    assert (duty.mark_hours, duty.last_hours, duty.active, duty.unknown_on) == (3290, 3190, True, None)


def test_a_day_said_is_counted_from(used, tell):
    duty = tell(used(), "brakes", "12.10.2025")
    assert (duty.mark_on, duty.last_on) == (date(2026, 10, 12), date(2025, 10, 12))


def test_both_said_are_kept_as_said(used, tell):
    duty = tell(used(readings=READ), "grease", "3100 h 20.10.2025")
    assert (duty.last_hours, duty.last_on) == (3100, date(2025, 10, 20))
    assert (duty.mark_hours, duty.mark_on) == (3350, date(2026, 4, 20))


def test_work_missed_since_is_overdue(used, tell):
    duty = tell(used(), "oil", "3100 h")
    assert duty.mark_hours == 3200
    assert duty.is_overdue(TODAY)


def test_what_nobody_knows_falls_due_for_an_inspection(used, tell):
    duty = tell(used(), "oil", "?")
    assert (duty.mark_hours, duty.mark_on) == (3300, TODAY + timedelta(days=14))
    assert (duty.unknown_on, duty.last_on, duty.active) == (TODAY, None, True)
    assert not duty.is_overdue(TODAY)
    assert list(Duty.objects.to_inspect()) == [duty]


def test_an_inspection_is_no_later_than_the_rule(used, tell, in_farm):
    machine = used(in_service_on=date(2024, 6, 8))
    assert tell(machine, "brakes", "?").mark_on == date(2026, 6, 8)


def test_an_outrun_running_in_task_that_nobody_knows_of_is_inspected_and_then_over(used, tell, in_farm):
    machine = used(readings=((datetime(2025, 12, 1, tzinfo=UTC), 60),), in_service_on=date(2025, 11, 1))
    duty = tell(machine, "first", "?")
    assert (duty.active, duty.mark_hours, duty.mark_on) == (True, None, TODAY + timedelta(days=14))
    assert tell(machine, "first", "52 h").active is False


def test_the_order_that_inspects_ends_the_not_knowing_and_a_correction_brings_it_back(used, tell, in_farm):
    machine = used()
    duty = tell(machine, "oil", "?")
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[duty])
    order = workorders.start(order=order, member=in_farm.manager, revision=order.revision)
    line = order.lines.get()
    workorders.close(
        order=order,
        member=in_farm.manager,
        revision=order.revision,
        entries=Entries([LineEntry(line.pk, "done")], hours=Decimal(3241)),
    )
    duty.refresh_from_db()
    assert (duty.unknown_on, duty.last_hours) == (None, 3241)
    order.refresh_from_db()
    workorders.amend(
        order=order,
        member=in_farm.manager,
        revision=order.revision,
        reason="It was not done.",
        entries=Entries(
            [LineEntry(line.pk, "deferred", reason="no oil", deferred_until=TODAY + timedelta(days=3))]
        ),
    )
    duty.refresh_from_db()
    assert (duty.unknown_on, duty.last_hours) == (TODAY, None)


def test_after_an_order_nothing_more_can_be_said(used, tell, cell, in_farm):
    machine = used()
    duty = tell(machine, "oil", "3190 h")
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[duty])
    order = workorders.start(order=order, member=in_farm.manager, revision=order.revision)
    workorders.close(
        order=order,
        member=in_farm.manager,
        revision=order.revision,
        entries=Entries([LineEntry(order.lines.get().pk, "done")], hours=Decimal(3241)),
    )
    asked = cell(machine, "oil")
    assert asked.state == State.RECORDED
    with pytest.raises(WrongState):
        say(statements=[Statement(asked, Said(hours=Decimal(3200)))], member=in_farm.manager, now=NOW)


def test_the_day_between_two_readings_is_on_the_line_between_them(used, tell):
    """Linear interpolation, checked against numpy.interp."""
    duty = tell(used(readings=READ), "oil", "3100 h")
    days = [(at - datetime(2025, 1, 1, tzinfo=UTC)).days for at, _hours in READ]
    expected = date(2025, 1, 1) + timedelta(days=int(np.interp(3100, [h for _at, h in READ], days)))
    assert duty.last_on == expected
    assert LastDone.objects.get().on is None  # what was said is kept as it was


def test_the_hours_of_a_day_between_two_readings_are_on_that_line(used, tell):
    duty = tell(used(readings=READ), "grease", "31.10.2025")
    by_utc = Decimal(3022) + Decimal(218) * 30 / 61
    assert duty.last_hours == pytest.approx(by_utc, abs=Decimal("0.3"))


def test_before_the_first_reading_the_usual_pace_is_taken(used, tell):
    duty = tell(used(), "oil", "3190 h")
    assert date(2024, 6, 1) < duty.last_on < date(2025, 12, 1)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        (Said(hours=Decimal("3240.1")), "T-07 has run 3 240.0 h so far. Give no more."),
        (Said(on=TODAY + timedelta(days=1)), "That day is in the future. Give an earlier one."),
        (Said(on=date(1949, 12, 31)), "That day is too long ago. Give a later one."),
        (
            Said(hours=Decimal(3000), on=date(2025, 11, 1)),
            "By its readings it had 3 022.0 h to 3 240.0 h on 1 Nov 2025.",
        ),
        (
            Said(hours=Decimal(3200), on=date(2025, 5, 1)),
            "By its readings it had 0.0 h to 2 900.0 h on 1 May 2025.",
        ),
    ],
)
def test_what_cannot_be_is_refused(used, cell, in_farm, said, sentence):
    statement = Statement(cell(used(readings=READ), "oil"), said)
    (error,) = judge([statement], now=NOW).values()
    assert " ".join(error.sentence.split()) == sentence
    with pytest.raises(FleetError):
        say(statements=[statement], member=in_farm.manager, now=NOW)
    assert not LastDone.objects.exists()


def test_a_machine_never_read_has_to_be_read_first(used, cell, in_farm):
    asked = cell(used(readings=()), "brakes")
    for said in (Said(hours=Decimal(5)), Said(on=date(2026, 1, 1))):
        (error,) = judge([Statement(asked, said)], now=NOW).values()
        assert "Enter what its meter shows first" in error.sentence
    assert judge([Statement(asked, Said(unknown=True))], now=NOW) == {}


def test_one_that_is_wrong_keeps_back_all(used, cell, in_farm):
    machine = used()
    statements = [
        Statement(cell(machine, "oil"), Said(hours=Decimal(3200))),
        Statement(cell(machine, "brakes"), Said(on=TODAY + timedelta(days=9))),
    ]
    with pytest.raises(FleetError):
        say(statements=statements, member=in_farm.manager, now=NOW)
    assert not LastDone.objects.exists()


def test_the_same_said_twice_is_kept_once(used, cell, in_farm):
    machine = used()
    for kept in (1, 0):
        statements = [Statement(cell(machine, "oil"), Said(hours=Decimal(3200)))]
        assert say(statements=statements, member=in_farm.manager, now=NOW) == kept
    assert LastDone.objects.count() == 1


def test_a_page_that_is_older_than_another_statement_is_refused(used, cell, in_farm):
    machine = used()
    refresh(machine, now=NOW)
    before = cell(machine, "oil")
    say(statements=[Statement(before, Said(hours=Decimal(3200)))], member=in_farm.manager, now=NOW)
    with pytest.raises(WrongState):
        say(statements=[Statement(before, Said(hours=Decimal(3100)))], member=in_farm.owner, now=NOW)


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_only_who_manages_the_fleet_may_say(used, cell, in_farm, role):
    statement = Statement(cell(used(), "oil"), Said(unknown=True))
    with pytest.raises(NotAllowed):
        say(statements=[statement], member=getattr(in_farm, role), now=NOW)


def test_another_organisations_manager_may_not(used, cell, in_farm, stranger):
    statement = Statement(cell(used(), "oil"), Said(unknown=True))
    with pytest.raises(NotAllowed):
        say(statements=[statement], member=stranger.manager, now=NOW)


def test_a_refresh_leaves_it_as_it_was_said(used, tell):
    machine = used()
    duty = tell(machine, "oil", "?")
    before = (duty.mark_hours, duty.mark_on, duty.unknown_on)
    refresh(Machine.objects.get(pk=machine.pk), now=NOW + timedelta(days=3))
    duty.refresh_from_db()
    assert (duty.mark_hours, duty.mark_on, duty.unknown_on) == before
