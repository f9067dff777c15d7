"""Two people at the same moment, each on a connection of their own to a real PostgreSQL."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.utils import timezone

from fleet.calendar import bookings
from fleet.calendar.commitments import Promised
from fleet.core.errors import FleetError, Stale
from fleet.machines import attachments, tag_outs
from fleet.models import Ask, Hire, Machine, Reading
from servicing import gate, workorders
from servicing.models import CheckResult, Line, Part, WorkOrder
from servicing.workorders import CheckEntry, Entries, LineEntry, PartEntry
from tests.at_once import at_once
from tests.factories import CheckFactory, DutyFactory, IntervalFactory, PartFactory

pytestmark = [
    pytest.mark.service,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("several_writers"),
]


def work_at_once(house, *works: Callable[[], object]) -> list[object]:
    """Run functions of the house together; return what each returned, or the FleetError it raised."""

    def run(work):
        with house.scope():
            try:
                return work()
            except FleetError as refusal:
                return refusal

    return at_once(*(partial(run, work) for work in works))


def test_numbers_count_up_without_a_gap(farm):
    duties = [DutyFactory(machine__organisation=farm.organisation) for _ in range(6)]
    answers = work_at_once(
        farm,
        *(
            lambda duty=duty: workorders.plan(member=farm.manager, machine=duty.machine, duties=[duty])
            for duty in duties
        ),
    )
    assert sorted(order.number for order in answers) == [1, 2, 3, 4, 5, 6]


def test_one_duty_gets_onto_one_order(farm, machine):
    duty = DutyFactory(machine=machine)

    def plan():
        return workorders.plan(member=farm.manager, machine=machine, duties=[duty])

    answers = work_at_once(farm, plan, plan)
    assert sorted(type(answer).__name__ for answer in answers) == ["FleetError", "WorkOrder"]
    with farm.scope():
        assert Line.objects.filter(duty=duty).count() == 1


def test_two_closings_count_once(farm, machine):
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000))
    IntervalFactory(task=duty.task)
    check = CheckFactory(task=duty.task)
    part = PartFactory(organisation=farm.organisation, in_stock=Decimal(5))
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[duty])
        order = workorders.start(order=order, member=farm.manager, revision=1)
        line = order.lines.get().pk

    def close(member, found):
        entries = Entries(
            lines=[LineEntry(line, "done", checks=[CheckEntry(check.pk, found)])],
            parts=[PartEntry(part.pk, Decimal(1))],
            hours=Decimal(1004),
        )
        return workorders.close(order=order, member=member, revision=2, entries=entries)

    answers = work_at_once(farm, lambda: close(farm.technician, "8"), lambda: close(farm.manager, "8.5"))
    assert sorted(isinstance(answer, Stale) for answer in answers) == [False, True]
    told = next(answer for answer in answers if isinstance(answer, Stale))
    with farm.scope():
        first = CheckResult.objects.select_related("recorded_by__user").get()
        by = str(first.recorded_by)
    [differs] = told.differing
    assert (differs.recorded, differs.recorder.by) == (first.as_found, by)
    assert {differs.entered, differs.recorded} == {f"8 {check.unit}", f"8.5 {check.unit}"}
    with farm.scope():
        assert Part.objects.get().in_stock == 4
        assert Reading.objects.filter(source="order").count() == 1
        duty.refresh_from_db()
        assert duty.mark_hours == 1100
        assert WorkOrder.objects.get().revision == 3


@pytest.mark.parametrize("turn", range(5))
def test_a_machine_goes_out_or_into_the_shop_but_not_both(farm, machine, turn):
    duty = DutyFactory(machine=machine, mark_hours=Decimal(9000), early=None, likely=None, late=None)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[duty])
    asked = {"hirer": "Vic", "due_back_on": None, "shows": None, "fuel": None, "member": farm.manager}
    answers = work_at_once(
        farm,
        lambda: workorders.start(order=order, member=farm.manager, revision=1),
        lambda: gate.check_out(machine=machine, **asked),
    )
    assert sum(isinstance(answer, FleetError) for answer in answers) == 1, answers
    with farm.scope():
        in_shop = Machine.objects.get(pk=machine.pk).in_shop_since is not None
        assert in_shop != Hire.objects.open().filter(machine=machine).exists()


def _promisers(farm, machine, tomorrow):
    """Three people who want the same day of a machine: to send it out over it, to book it, to work on it."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(9000), early=None, likely=None, late=None)
    facts = bookings.Facts(
        kind="hire", what="Gala", first_on=tomorrow, last_on=tomorrow, hours_a_day=Decimal(5)
    )
    asked = {"hirer": "Vic", "shows": Decimal(1001), "fuel": None, "member": farm.counter}
    return {
        "out": lambda: gate.check_out(machine=machine, due_back_on=tomorrow, **asked),
        "book": lambda: bookings.book(machine=machine, facts=facts, member=farm.counter),
        "plan": lambda: workorders.plan(
            member=farm.manager, machine=machine, duties=[duty], planned_for=tomorrow
        ),
    }


@pytest.mark.parametrize("turn", range(3))
@pytest.mark.parametrize("pair", [("out", "book"), ("out", "plan"), ("book", "plan"), ("book", "book")])
def test_no_day_is_promised_twice(farm, machine, pair, turn):
    works = _promisers(farm, machine, machine.today() + timedelta(days=1))
    answers = work_at_once(farm, *(works[name] for name in pair))
    assert sum(isinstance(answer, Promised) for answer in answers) == 1, answers


@pytest.mark.parametrize("turn", range(3))
def test_nor_work_on_what_hangs_on_a_machine_that_goes_out(farm, machine, turn):
    tomorrow = machine.today() + timedelta(days=1)
    hung = farm.attachment()
    with farm.scope():
        attachments.mount(attachment=hung, machine=machine, at=timezone.now(), member=farm.manager)
    works = _promisers(farm, machine, tomorrow)
    duty = DutyFactory(machine=hung, mark_hours=Decimal(9000), early=None, likely=None, late=None)
    answers = work_at_once(
        farm,
        works["out"],
        lambda: workorders.plan(member=farm.manager, machine=hung, duties=[duty], planned_for=tomorrow),
    )
    assert sum(isinstance(answer, Promised) for answer in answers) == 1, answers


@pytest.mark.parametrize("turn", range(3))
def test_one_ask_stands_however_many_ask_at_once(farm, machine, turn):
    with farm.scope():
        tag_outs.place(machine=machine, reason="Brakes failed", member=farm.technician)

    def ask():
        return tag_outs.ask_to_clear(machine=machine, member=farm.counter)

    answers = work_at_once(farm, ask, ask, ask)
    assert sum(isinstance(answer, Ask) for answer in answers) == 1, answers


@pytest.mark.parametrize("turn", range(3))
def test_a_unit_comes_back_once_and_the_second_is_told_by_whom(farm, machine, turn):
    asked = {"machine": machine, "shows": None, "fuel": None}
    with farm.scope():
        gate.check_out(**asked, hirer="Vic", due_back_on=None, member=farm.manager, note="With trailer")

    def back(member):
        return gate.check_in(**asked, member=member, note=f"seen by {member}")

    answers = work_at_once(farm, lambda: back(farm.counter), lambda: back(farm.manager))
    told = [answer for answer in answers if isinstance(answer, FleetError)]
    assert len(told) == 1, answers
    with farm.scope():
        hire = Hire.objects.with_people().get()
    assert f"It was taken back by {hire.back_by}" in told[0].sentence
    assert (hire.note, hire.note_back) == ("With trailer", f"seen by {hire.back_by}")


@pytest.mark.parametrize("turn", range(3))
def test_two_who_add_to_a_return_at_once_both_stand(farm, machine, turn):
    asked = {"shows": None, "fuel": None}
    with farm.scope():
        gate.check_out(machine=machine, **asked, hirer="Vic", due_back_on=None, member=farm.manager)
        gate.check_in(machine=machine, **asked, member=farm.manager)
        hire = Hire.objects.get()
    add = partial(gate.add_to_return, hire=hire, **asked)
    work_at_once(
        farm,
        lambda: add(member=farm.counter, note="mirror gone"),
        lambda: add(member=farm.owner, note="muddy"),
    )
    with farm.scope():
        kept = Hire.objects.get().note_back
    assert "mirror gone" in kept
    assert "muddy" in kept


@pytest.mark.parametrize("turn", range(3))
def test_two_who_both_say_that_theirs_stands_do_not_overwrite_each_other(farm, machine, turn):
    """Each answered a question about the same record: one is in time, the other is asked again."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000))
    check = CheckFactory(task=duty.task)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[duty])
        order = workorders.start(order=order, member=farm.manager, revision=1)
        line = order.lines.get().pk

    def record(member, found):
        entries = Entries(lines=[LineEntry(line, checks=[CheckEntry(check.pk, found)])])
        return workorders.record(order=order, member=member, revision=2, entries=entries)

    answers = work_at_once(farm, lambda: record(farm.technician, "8"), lambda: record(farm.manager, "8.5"))
    [told] = [answer for answer in answers if isinstance(answer, Stale)]
    with farm.scope():
        kept = CheckResult.objects.select_related("recorded_by__user").get()
    [differs] = told.differing
    assert (differs.recorded, differs.recorder.by) == (kept.as_found, str(kept.recorded_by))
    assert differs.entered != differs.recorded
