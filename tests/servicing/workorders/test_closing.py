"""Closing an order: the mark that follows, saving on the way, two people at once, what it costs."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.core.errors import NotAllowed, Stale, WrongState
from fleet.models import Reading
from servicing import workorders
from servicing.models import CheckResult, Duty, Line
from servicing.workorders import Entries, LabourEntry, LineEntry, NotReady, PartEntry
from tests.factories import CheckFactory, DutyFactory, IntervalFactory, PartFactory
from tests.servicing.workorders.work import NOW, check, close, entries, started

pytestmark = pytest.mark.time_machine(NOW, tick=False)


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


# ------------------------------------------------------------------ saving on the way, and two people at once


def test_record_keeps_what_there_is_and_moves_nothing(
    in_farm, machine, technician, belt, brake, time_machine
):
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

    time_machine.shift(3600)
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
            entries=Entries(lines=[LineEntry(line.pk, "deferred")]),
        )
    assert [each.path[-1] for each in refused.value.problems] == ["reason", "deferred_until"]


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
    with pytest.raises(WrongState, match="it is planned, for no technician yet"):
        workorders.close(order=order, member=in_farm.manager, revision=1, entries=entries(order, ("8",)))


@pytest.mark.parametrize("process", ["record", "close"])
def test_the_counter_does_not_work_on_orders(in_farm, machine, belt, process):
    order = started(in_farm, machine, belt)
    with pytest.raises(NotAllowed):
        getattr(workorders, process)(
            order=order, member=in_farm.counter, revision=2, entries=entries(order, ("8",))
        )
    assert Line.objects.get().outcome == ""


@pytest.fixture
def asked_by_closing(in_farm, machine, technician, time_machine):
    """Closes an order of so many lines; returns its queries, its requests for new days, and its tasks."""
    assert connection.features.supports_json_field  # SQLite is asked that once; no order does

    def asked(number, capture):
        time_machine.shift(timedelta(days=1))
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


# ------------------------------------------------------------------ what it costs


def test_an_order_of_16_lines_asks_what_one_of_2_asks_and_for_new_days_once(
    asked_by_closing, django_capture_on_commit_callbacks
):
    few, *requests_of_few = asked_by_closing(2, django_capture_on_commit_callbacks)
    many, *requests_of_many = asked_by_closing(16, django_capture_on_commit_callbacks)
    assert requests_of_few == requests_of_many == [1, 1]
    assert many == few <= 46
