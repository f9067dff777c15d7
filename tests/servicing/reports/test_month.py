"""The month's rows as the database gives them. Own numbers, worked by hand beside each test."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import TagOut
from servicing.ledger.compliance import Compliance
from servicing.ledger.costs import Cost
from servicing.ledger.period import Month
from servicing.models import Duty, Labour, PartUsed, SupplyNeed, TaskOverride
from servicing.reports.month import collect_month
from tests.factories import (
    AttachmentFactory,
    DutyFactory,
    IntervalFactory,
    LineFactory,
    MachineFactory,
    PartFactory,
    ReadingFactory,
    TechnicianFactory,
    WorkOrderFactory,
)

OCTOBER = Month(2026, 10)
NOW = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)


def at(month, day, hour=12, minute=0):
    """A moment of 2026 in UTC. Madrid is two hours ahead until 25 October, then one."""
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


@pytest.fixture
def machine(in_farm):
    return in_farm.machine(tag="T-01")


def read(machine, moment, hours, **values):
    ReadingFactory(machine=machine, taken_at=moment, shows=D(hours), **values)
    type(machine).objects.filter(pk=machine.pk).update(hours=D(hours), hours_at=moment)
    machine.refresh_from_db()


def closed(machine, moment, house, **values):
    return WorkOrderFactory(
        machine=machine, state="closed", closed_at=moment, closed_by=house.manager, hours_at_close=1, **values
    )


def met(order, duty, hours, on, **values):
    return LineFactory(
        order=order,
        duty=duty,
        task=duty.task,
        open=False,
        outcome="done",
        done_hours=D(hours),
        done_on=on,
        **values,
    )


def sheet(house, *, of=OCTOBER, now=NOW):
    return collect_month(organisation=house.organisation, month=of, now=now)


def row(house, **asked):
    [only] = sheet(house, **asked).rows
    return only


class TestHours:
    def test_month_begins_and_ends_at_the_organisations_midnight(self, in_farm, machine):
        """October in Madrid: 30 September 22:00 UTC to 31 October 23:00 UTC."""
        read(machine, at(9, 30, 21, 59), 100)
        read(machine, at(9, 30, 22, 0), 101)
        read(machine, at(10, 31, 22, 59), 140)
        read(machine, at(10, 31, 23, 0), 150)
        read(machine, at(11, 5), 170)
        assert row(in_farm).hours == D("49.0")

    def test_held_and_discarded_readings_count_for_nothing(self, in_farm, machine):
        read(machine, at(9, 30, 22, 0), 100)
        read(machine, at(10, 20), 140)
        for shows, state in ((900, "held"), (901, "discarded")):
            ReadingFactory(
                machine=machine, taken_at=at(10, 21), shows=D(shows), state=state, reason="x", code="too_fast"
            )
        assert row(in_farm).hours == D("40.0")

    def test_running_month_goes_up_to_now(self, in_farm, machine):
        read(machine, at(10, 31, 23, 0), 100)
        read(machine, at(11, 18), 130)
        so_far = sheet(in_farm, of=Month(2026, 11))
        assert (so_far.running, so_far.until, so_far.days) == (True, date(2026, 11, 20), 20)
        assert so_far.hours == D("30.0")
        assert not sheet(in_farm).running

    def test_machines_of_the_month(self, in_farm, machine):
        def add(tag, **values):
            in_farm.machine(tag=tag, **values)

        add("T-02", in_service_on=date(2026, 11, 1))
        add("T-03", in_service_on=date(2026, 10, 31))
        add("T-04", retired_on=date(2026, 9, 30))
        add("T-05", retired_on=date(2026, 10, 1))
        assert [r.tag for r in sheet(in_farm).rows] == ["T-01", "T-03", "T-05"]
        assert sheet(in_farm).silent == 3

    def test_another_organisation_is_not_in_it(self, in_farm, stranger):
        MachineFactory(organisation=stranger.organisation)
        assert sheet(in_farm).rows == []


class TestCosts:
    def test_parts_and_labour_of_orders_closed_in_the_month(self, in_farm, machine):
        """2 × 12.50 + 3.5 × 8.10 = 53.35; 45 min at 40 and 20 min at 36 an hour = 42.00; 20 h run."""
        technician = TechnicianFactory(member=in_farm.technician)
        read(machine, at(9, 30, 22, 0), 100)
        read(machine, at(10, 31, 23, 0), 120)
        inside = [closed(machine, at(9, 30, 22, 0), in_farm), closed(machine, at(10, 31, 22, 59), in_farm)]
        outside = [closed(machine, at(9, 30, 21, 59), in_farm), closed(machine, at(10, 31, 23, 0), in_farm)]
        for order in outside:
            self.spend(order, technician, [(1, "999")], [(60, "999")])
        self.spend(inside[0], technician, [(2, "12.50")], [(45, "40")])
        self.spend(inside[1], technician, [("3.5", "8.10")], [(20, "36")])
        self.spend(WorkOrderFactory(machine=machine), technician, [(1, "500")], [])
        assert row(in_farm).cost == Cost(D("53.35"), D("42.00"))
        assert row(in_farm).per_hour == D("4.77")

    @staticmethod
    def spend(order, technician, parts, labour):
        owner = {"organisation": order.organisation, "order": order}
        for quantity, price in parts:
            part = PartFactory(organisation=order.organisation)
            PartUsed(part=part, quantity=D(quantity), unit_cost=D(price), **owner).save()
        for minutes, rate in labour:
            Labour(technician=technician, minutes=minutes, hourly_rate=D(rate), **owner).save()

    def test_beside_what_the_standard_expects(self, in_farm, machine):
        """ASAE D497: 0.007 × 150000 × (6.0² − 5.6²) = 4872.00, the worked example of Iowa State A3-29."""
        machine.price = D(150000)
        machine.save()
        read(machine, at(9, 30, 22, 0), 5600)
        read(machine, at(10, 31, 23, 0), 6000)
        assert row(in_farm).expected_cost == D("4872.00")

    @pytest.mark.parametrize(("category", "price"), [("generator", 9000), ("compact-tractor", None)])
    def test_standard_is_silent_without_a_class_or_a_price(self, in_farm, machine, category, price):
        machine.type.category = category
        machine.type.save()
        machine.price = price
        machine.save()
        read(machine, at(10, 1), 10)
        assert row(in_farm).expected_cost is None
        assert sheet(in_farm).compared is None


class TestDaysDown:
    def test_shop_and_tag_outs_are_united_and_clipped(self, in_farm, machine):
        """Tag-out 2 Oct 12:00 to 4 Oct 12:00, order 3 Oct 12:00 to 5 Oct 12:00: three days.
        Order over the start of the month: 30 Sep 22:00 to 1 Oct 10:00 UTC, half a day."""
        owner = {"organisation": in_farm.organisation, "machine": machine, "reason": "x"}
        TagOut(
            placed_at=at(10, 2),
            cleared_at=at(10, 4),
            cleared_by=in_farm.manager,
            clear_reason="mended",
            **owner,
        ).save()
        closed(machine, at(10, 5), in_farm, started_at=at(10, 3))
        closed(machine, at(10, 1, 10), in_farm, started_at=at(9, 12))
        closed(machine, at(10, 20), in_farm)  # closed without having been started: no span
        assert row(in_farm).days_down == D("3.5")

    def test_an_order_started_and_called_off_took_its_days_too(self, in_farm, machine):
        WorkOrderFactory(
            machine=machine,
            state="cancelled",
            started_at=at(10, 3),
            cancelled_at=at(10, 4),
            cancel_reason="x",
        )
        assert row(in_farm).days_down == D("1.0")

    def test_what_still_goes_on(self, in_farm, machine):
        machine.in_shop_since = at(10, 30, 23)
        machine.save()
        assert row(in_farm).days_down == D("1.0")
        TagOut(
            organisation=in_farm.organisation, machine=machine, reason="x", placed_at=at(10, 29, 23)
        ).save()
        assert row(in_farm).days_down == D("2.0")
        assert row(in_farm, of=Month(2026, 9)).days_down == 0
        assert row(in_farm, of=Month(2026, 11)).days_down == D(
            "19.4"
        )  # up to now: 31 Oct 23:00 to 20 Nov 9:00


class TestMarks:
    @pytest.fixture(autouse=True)
    def hours(self, machine):
        read(machine, at(9, 30, 22, 0), 100)
        read(machine, at(10, 31, 23, 0), 200)
        read(machine, at(11, 10), 230)

    def test_done_in_time_late_not_done_and_carried(self, in_farm, machine):
        order = closed(machine, at(10, 12), in_farm)
        day = date(2026, 10, 12)

        def duty(mark):
            return DutyFactory(machine=machine, mark_hours=D(mark))

        met(order, duty(9001), 140, day, mark_hours=D(150))
        met(order, duty(9002), 160, day, mark_hours=D(150))
        met(order, duty(9003), 160, day, mark_hours=D(150), late_allowance_hours=D(10))
        met(order, duty(9004), 160, day, mark_hours=D(90))
        duty(180)  # fell due, stands
        duty(95)  # fell due before October, stands
        duty(210)  # November's
        assert row(in_farm).marks == Compliance(in_time=2, late=1, not_done=1, carried_in=1, still_open=1)
        assert sheet(in_farm).marks.of_due == D("50.0")

    def test_what_was_done_afterwards_does_not_change_a_month_that_is_over(self, in_farm, machine):
        duty = DutyFactory(machine=machine, mark_hours=D(180))
        before = row(in_farm).marks
        duty.mark_hours = D(280)
        duty.save()
        met(closed(machine, at(11, 3), in_farm), duty, 212, date(2026, 11, 3), mark_hours=D(180))
        assert row(in_farm).marks == before == Compliance(not_done=1)
        assert row(in_farm, of=Month(2026, 11)).marks == Compliance(carried_in=1)

    def test_allowance_of_the_rule_that_holds_for_the_machine(self, in_farm, machine):
        duty = DutyFactory(machine=machine, mark_hours=D(195))
        assert row(in_farm).marks == Compliance(not_done=1)
        IntervalFactory(task=duty.task, late_allowance_hours=D(10))
        assert row(in_farm).marks == Compliance()

    def test_only_service_that_was_done_meets_a_mark(self, in_farm, machine):
        order = closed(machine, at(10, 12), in_farm)
        duty = DutyFactory(machine=machine, mark_hours=D(150))
        line = met(order, duty, 140, date(2026, 10, 12), mark_hours=D(150))
        line.outcome, line.reason, line.deferred_until = "deferred", "No filter", date(2026, 11, 30)
        line.done_hours = line.done_on = None
        line.save()
        LineFactory(
            order=order, title="Mend the mirror", open=False, outcome="done", done_on=date(2026, 10, 12)
        )
        assert row(in_farm).marks == Compliance(not_done=1)
        assert row(in_farm).deferred == 1

    def test_a_deferral_moves_no_mark(self, in_farm, machine):
        """Deferred to 12 November and done a day before: late all the same, by the mark it had."""
        duty = DutyFactory(machine=machine, mark_hours=None, mark_on=date(2026, 10, 20))
        LineFactory(
            order=closed(machine, at(10, 12), in_farm),
            duty=duty,
            task=duty.task,
            open=False,
            outcome="deferred",
            reason="No filter",
            deferred_until=date(2026, 11, 12),
            mark_on=duty.mark_on,
        )
        assert row(in_farm).marks == Compliance(not_done=1)
        Duty.objects.filter(pk=duty.pk).update(mark_on=date(2027, 10, 20))
        met(closed(machine, at(11, 11), in_farm), duty, 225, date(2026, 11, 11), mark_on=date(2026, 10, 20))
        assert row(in_farm).marks == Compliance(not_done=1)
        assert row(in_farm, of=Month(2026, 11)).marks == Compliance(carried_in=1)

    def test_a_date_that_runs_to_the_end_of_a_month(self, in_farm, machine):
        """Signed on 31 October it is in time, on 1 November late by a day and October's."""

        def duty():
            made = DutyFactory(machine=machine, mark_hours=None, mark_on=date(2026, 11, 1))
            IntervalFactory(task=made.task, every_hours=None, every_months=12, to_month_end=True)
            return made

        for done in (date(2026, 10, 31), date(2026, 11, 1)):
            each = duty()
            Duty.objects.filter(pk=each.pk).update(mark_on=date(2027, 11, 1))
            met(closed(machine, at(11, 2), in_farm), each, 200, done, mark_on=date(2026, 11, 1))
        duty()  # stands
        assert row(in_farm).marks == Compliance(in_time=1, not_done=2)
        assert row(in_farm, of=Month(2026, 11)).marks == Compliance(carried_in=1, still_open=1)

    def test_dates_on_the_edges_of_the_month(self, in_farm, machine):
        for on in (date(2026, 9, 30), date(2026, 10, 1), date(2026, 10, 31), date(2026, 11, 1)):
            DutyFactory(machine=machine, mark_hours=None, mark_on=on)
        assert row(in_farm).marks == Compliance(not_done=2, still_open=1)


class TestAhead:
    def test_expected_from_the_quantiles_with_minutes_and_supplies(self, in_farm, machine):
        """From 20 November, 60 days on is 19 January: likely then, so half a job; past is a whole one.
        Minutes 0.5 × 30 + 1 × 20; supplies 0.5 × 4 × 10 = 20."""
        far = NOW.date() + timedelta(days=60)
        half = DutyFactory(
            machine=machine, mark_hours=D(900), task__minutes=30, early=far - timedelta(20), likely=far,
            late=far + timedelta(30),
        )  # fmt: skip
        part = PartFactory(organisation=in_farm.organisation, unit_cost=D(10))
        SupplyNeed(organisation=in_farm.organisation, task=half.task, part=part, quantity=D(4)).save()
        DutyFactory(machine=machine, mark_hours=D(0), task__minutes=20)
        coming = sheet(in_farm).coming
        assert (coming.jobs, coming.minutes, coming.supplies, coming.overdue) == (D("1.5"), 35, D(20), 1)

    def test_repeats_at_the_machines_pace(self, in_farm, machine):
        """2 h a day over the last 90 days; every 40 h: due in 10, 30 and 50 days."""
        read(machine, NOW - timedelta(days=90), 100)
        read(machine, NOW, 280)
        day = NOW.date() + timedelta(days=10)
        duty = DutyFactory(machine=machine, mark_hours=D(300), early=day, likely=day, late=day)
        assert sheet(in_farm).coming.jobs == D("1.0")
        IntervalFactory(task=duty.task, every_hours=D(40))
        assert sheet(in_farm).coming.jobs == D("3.0")
        TaskOverride.objects.create(
            organisation=in_farm.organisation,
            machine=machine,
            program=duty.task.version.program,
            task_code=duty.task.code,
            every_hours=D(80),
            reason="Runs on the gentle slope only",
        )
        assert sheet(in_farm).coming.jobs == D("2.0")  # in 10 and 50 days

    def test_it_is_the_same_whatever_month_is_viewed(self, in_farm, machine):
        """An attachment and a machine that came in November belong to what comes next, not to October."""
        kind = {"organisation": in_farm.organisation, "yard": in_farm.yard}
        cutter = AttachmentFactory(tag="C-01", in_service_on=date(2026, 11, 5), **kind)
        newer = MachineFactory(tag="T-09", in_service_on=date(2026, 11, 5), **kind)
        gone = MachineFactory(tag="T-00", retired_on=date(2026, 11, 1), **kind)
        for each in (machine, cutter, newer, gone):
            DutyFactory(machine=each, mark_hours=D(0), task__minutes=20)
        seen = [sheet(in_farm, of=Month(2026, number)) for number in (9, 10, 11)]
        assert [[each.tag for each in month.ahead] for month in seen] == [["C-01", "T-01", "T-09"]] * 3
        assert [(month.coming.jobs, month.coming.minutes) for month in seen] == [(D("3.0"), 60)] * 3
        assert [[row.tag for row in month.rows] for month in seen[:2]] == [["T-00", "T-01"]] * 2

    def test_minutes_and_prices_never_entered_are_counted(self, in_farm, machine):
        """Two are certain and one lies beyond: of the two, one has no minutes and one part no price."""
        owner = {"organisation": in_farm.organisation}
        bare = DutyFactory(machine=machine, mark_hours=D(0), task__minutes=0)
        full = DutyFactory(machine=machine, mark_hours=D(0), task__minutes=20)
        far = NOW.date() + timedelta(days=900)
        DutyFactory(machine=machine, mark_hours=D(9000), task__minutes=0, early=far, likely=far, late=far)
        for duty, cost in ((bare, 0), (full, 10)):
            part = PartFactory(unit_cost=D(cost), **owner)
            SupplyNeed(task=duty.task, part=part, quantity=D(2), **owner).save()
        coming = sheet(in_farm).coming
        assert (coming.minutes, coming.untimed) == (20, 1)
        assert (coming.supplies, coming.unpriced) == (20, 1)


def test_queries_do_not_grow_with_the_fleet(in_farm):
    def cost(machines):
        task = DutyFactory(machine__organisation=in_farm.organisation).task
        technician = TechnicianFactory(member__organisation=in_farm.organisation)
        for n in range(machines):
            machine = in_farm.machine(type=task.version.program.machine_type)
            ReadingFactory(machine=machine, taken_at=at(10, 5), shows=D(n))
            duty = DutyFactory(machine=machine, task=task, mark_hours=D(n))
            order = closed(machine, at(10, 12), in_farm, started_at=at(10, 11))
            met(order, duty, n, date(2026, 10, 12), mark_hours=D(n))
            TestCosts.spend(order, technician, [(1, "2")], [(10, "40")])
        with CaptureQueriesContext(connection) as queries:
            sheet(in_farm)
        return len(queries)

    assert cost(10) == cost(190)
