"""Sending out and planning work look at what a machine's days are promised to."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
import time_machine

from fleet.calendar import asks, bookings
from fleet.calendar.bookings import Facts
from fleet.calendar.commitments import Promised, promises
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import tag_outs
from fleet.models import Ask, Booking, Hire, Mounting
from servicing import gate, workorders
from servicing.models import WorkOrder
from tests.factories import BookingFactory, DutyFactory, TechnicianFactory

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
TODAY = date(2026, 6, 1)
BOOKED = "Booked for Gala Ros from 8 June to 12 June 2026."
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def june(day):
    return day and date(2026, 6, day)


def far_duty(machine):
    return DutyFactory(machine=machine, mark_hours=D(9000), early=None, likely=None, late=None)


def plan(house, machine, day=None, **values):
    asked = {"member": house.manager, "machine": machine, "planned_for": june(day)}
    return workorders.plan(**{**asked, "duties": [far_duty(machine)], **values})


def out(house, machine, due=None, **values):
    asked = {"hirer": "Pau Vila", "shows": None, "fuel": None, "member": house.counter}
    return gate.check_out(machine=machine, due_back_on=june(due), **{**asked, **values}).hire


def hang(house, machine):
    hung = house.attachment(tag="A-1")
    Mounting.objects.create(
        organisation=house.organisation, attachment=hung, machine=machine, mounted_at=NOW, hours_on=0
    )
    return hung


class TestGoingOut:
    @pytest.mark.parametrize(("due", "goes"), [(7, True), (8, False), (30, False), (None, False)])
    def test_not_into_the_days_of_another_hirer(self, in_farm, machine, due, goes):
        BookingFactory(machine=machine)
        if goes:
            assert out(in_farm, machine, due).pk
            return
        with pytest.raises(gate.SpokenFor) as refused:
            out(in_farm, machine, due, anyway_reason="They wait")
        assert refused.value.sentence.startswith(BOOKED)
        assert refused.value.sentence.endswith(
            "Someone who plans the work can send it out anyway: ask for it."
        )
        assert ("say on which day" in refused.value.sentence) is (due is None)
        assert not Hire.objects.exists()

    def test_nor_past_the_day_of_an_order(self, in_farm, machine):
        order = plan(in_farm, machine, 3)
        assert promises(machine, first=june(2), last=june(2)) == []
        with pytest.raises(gate.SpokenFor, match=f"{order} is planned for 3 June 2026.") as refused:
            out(in_farm, machine, 3)
        assert [(each.kind, each.pk) for each in refused.value.conflicts] == [("work", order.pk)]
        assert out(in_farm, machine, 2).pk

    def test_two_conflicts_and_service_first_are_all_named_and_one_reason_answers_them(
        self, in_farm, machine
    ):
        DutyFactory(machine=machine, mark_hours=D(0), task__title="Engine oil")
        order = plan(in_farm, machine, 3)
        BookingFactory(machine=machine)
        with pytest.raises(gate.SpokenFor) as refused:
            out(in_farm, machine, 20, member=in_farm.manager)
        assert refused.value.field == "anyway_reason"
        for said in ("needs service first", BOOKED, f"{order} is planned for 3 June 2026."):
            assert said in refused.value.sentence
        hire = out(in_farm, machine, 20, member=in_farm.manager, anyway_reason=" Agreed with Gala ")
        [kept] = Hire.objects.get(pk=hire.pk).overrulings()
        assert (kept.reason, kept.by, kept.at) == ("Agreed with Gala", str(in_farm.manager), NOW)
        assert [said.split(" ")[0] for said in kept.against] == ["Engine", "Booked", "Order"]
        assert hire.note == ""

    def test_a_tag_out_is_overruled_by_nobody(self, in_farm, machine):
        BookingFactory(machine=machine)
        tag_outs.place(machine=machine, reason="Brakes failed", member=in_farm.technician)
        with pytest.raises(gate.TaggedOut):
            out(in_farm, machine, 20, member=in_farm.owner, anyway_reason="Must go")
        with pytest.raises(gate.TaggedOut):
            gate.ask_for(machine=machine, hirer="Pau", due_back_on=None, member=in_farm.counter)

    def test_work_planned_on_what_hangs_on_it_counts(self, in_farm, machine):
        hung = hang(in_farm, machine)
        order = plan(in_farm, hung, 3)
        said = f"{order} on A-1, which is mounted on it, is planned for 3 June"
        with pytest.raises(gate.SpokenFor, match=said):
            out(in_farm, machine, 5)

    def test_an_order_whose_day_has_gone_or_that_has_none_takes_no_day(self, in_farm, machine):
        plan(in_farm, machine)
        WorkOrder.objects.filter(pk=plan(in_farm, machine, 2).pk).update(planned_for=date(2026, 5, 31))
        assert out(in_farm, machine).pk

    def test_the_day_is_the_yards_at_midnight(self, in_farm, machine):
        """22:30 UTC on the 7th is 0:30 on the 8th in Madrid."""
        BookingFactory(machine=machine, first_on=june(7), last_on=june(7))
        late = datetime(2026, 6, 7, 22, 30, tzinfo=UTC)
        with time_machine.travel(late, tick=False):
            assert out(in_farm, machine, 8).due_back_on == june(8)


class TestOwnBooking:
    @pytest.mark.parametrize("name", ["Gala Ros", " gala  ROS "])
    def test_it_is_fulfilled_and_no_conflict(self, in_farm, machine, name):
        booking = BookingFactory(machine=machine, first_on=TODAY, last_on=june(4), hours_a_day=D("7.5"))
        hire = out(in_farm, machine, hirer=name)
        assert (hire.booking, hire.due_back_on, hire.hours_a_day) == (booking, june(4), D("7.5"))
        assert hire.overruled == []

    def test_another_name_on_it_is_said_by_choosing_it(self, in_farm, machine):
        booking = BookingFactory(machine=machine, first_on=TODAY, last_on=june(4))
        with pytest.raises(gate.SpokenFor):
            out(in_farm, machine, 4, hirer="Gala Ros Paving Ltd")
        assert out(in_farm, machine, 4, hirer="Gala Ros Paving Ltd", booking=booking).booking == booking

    def test_a_booking_that_cannot_be_meant_is_refused(self, in_farm, machine):
        booking = BookingFactory(machine=machine)
        with pytest.raises(FleetError, match="begins after the day") as refused:
            out(in_farm, machine, 5, booking=booking)
        assert refused.value.field == "booking"
        bookings.withdraw(booking=booking, member=in_farm.counter)
        other = BookingFactory(machine=in_farm.machine(), first_on=TODAY)
        job = BookingFactory(machine=machine, kind="job", first_on=june(20), last_on=june(21))
        for wrong in (booking, other, job):
            with pytest.raises(FleetError, match="cancelled or used"):
                out(in_farm, machine, 15, booking=wrong)

    def test_an_own_job_is_no_hirers_booking(self, in_farm, machine):
        BookingFactory(machine=machine, kind="job", first_on=TODAY, last_on=june(2), what="Pau Vila")
        with pytest.raises(gate.SpokenFor, match="Booked for Pau Vila from 1 June"):
            out(in_farm, machine, 1)

    def test_coming_back_gives_the_rest_of_its_days_back(self, in_farm, machine):
        booking = BookingFactory(machine=machine, first_on=TODAY, last_on=june(9))
        out(in_farm, machine, hirer="Gala Ros")
        facts = Facts(kind="hire", what="Vic", first_on=june(5), last_on=june(6), hours_a_day=D(5))
        with pytest.raises(Promised, match="Choose other days, or change that booking first"):
            bookings.book(machine=machine, facts=facts, member=in_farm.counter)
        with time_machine.travel(NOW + timedelta(days=2), tick=False):
            gate.check_in(machine=machine, shows=None, fuel=None, member=in_farm.counter)
            booking.refresh_from_db()
            assert booking.fulfilled_at == NOW + timedelta(days=2)
            assert bookings.book(machine=machine, facts=facts, member=in_farm.counter).pk

    def test_one_fetched_early_and_brought_back_before_its_first_day_still_stands(self, in_farm, machine):
        booking = BookingFactory(machine=machine)
        out(in_farm, machine, hirer="Pau Vila", due=9, booking=booking)
        gate.check_in(machine=machine, shows=None, fuel=None, member=in_farm.counter)
        assert Booking.objects.standing().get() == booking

    def test_its_days_can_be_changed_while_it_is_out(self, in_farm, machine):
        booking = BookingFactory(machine=machine, first_on=TODAY, last_on=june(4))
        out(in_farm, machine, hirer="Gala Ros")
        facts = Facts(kind="hire", what="Gala Ros", first_on=TODAY, last_on=june(3), hours_a_day=D(5))
        bookings.change(booking=booking, facts=facts, member=in_farm.counter)
        assert Booking.objects.get().last_on == june(3)


class TestPlanning:
    @pytest.mark.parametrize("kind", ["hire", "job"])
    def test_not_into_a_booking_without_a_reason(self, in_farm, machine, kind):
        BookingFactory(machine=machine, kind=kind)
        with pytest.raises(Promised) as refused:
            plan(in_farm, machine, 9, override_reason=" ")
        assert refused.value.field == "override_reason"
        assert refused.value.sentence == f"{BOOKED} To plan it for that day anyway, say why."
        assert not WorkOrder.objects.exists()
        order = plan(in_farm, machine, 9, override_reason="Gala knows")
        [kept] = WorkOrder.objects.get(pk=order.pk).overrulings()
        assert (kept.reason, kept.against) == ("Gala knows", (BOOKED,))

    @pytest.mark.parametrize(
        ("due", "day", "goes"), [(5, 5, False), (5, 6, True), (None, 30, False), (None, None, True)]
    )
    def test_nor_while_it_is_out(self, in_farm, machine, due, day, goes):
        out(in_farm, machine, due)
        if goes:
            assert plan(in_farm, machine, day).pk
        else:
            with pytest.raises(Promised, match="Out with Pau Vila since 1 June 2026"):
                plan(in_farm, machine, day)

    def test_work_on_an_attachment_looks_at_its_host(self, in_farm, machine):
        BookingFactory(machine=machine)
        with pytest.raises(Promised, match="Booked for Gala Ros"):
            plan(in_farm, hang(in_farm, machine), 9)

    def test_a_tag_out_is_what_work_is_for_and_orders_share_days(self, in_farm, machine):
        tag_outs.place(machine=machine, reason="Brakes failed", member=in_farm.technician)
        plan(in_farm, machine, 9)
        assert plan(in_farm, machine, 9).overruled == []

    def test_another_day_is_looked_at_another_technician_is_not(self, in_farm, machine):
        order = plan(in_farm, machine, 9)
        BookingFactory(machine=machine)
        someone = TechnicianFactory(member=in_farm.technician)
        order = workorders.assign(
            order=order, member=in_farm.manager, revision=1, technician=someone, planned_for=june(9)
        )
        asked = {"order": order, "member": in_farm.manager, "revision": 2, "technician": someone}
        with pytest.raises(Promised):
            workorders.assign(**asked, planned_for=june(10))
        order = workorders.assign(**asked, planned_for=june(10), override_reason="Gala knows")
        order = WorkOrder.objects.get(pk=order.pk)
        assert (order.planned_for, [each.reason for each in order.overrulings()]) == (
            june(10),
            ["Gala knows"],
        )

    def test_an_order_stands_in_the_way_of_a_booking(self, in_farm, machine):
        order = plan(in_farm, machine, 9)
        facts = Facts(kind="hire", what="Vic", first_on=june(8), last_on=june(12), hours_a_day=D(5))
        with pytest.raises(Promised, match=f"{order} is planned for 9 June 2026"):
            bookings.book(machine=machine, facts=facts, member=in_farm.counter)

    def test_work_under_way_takes_today(self, in_farm, machine):
        TechnicianFactory(member=in_farm.technician)
        order = workorders.start(order=plan(in_farm, machine, 30), member=in_farm.technician, revision=1)
        [found] = promises(machine, first=TODAY, last=june(30))
        assert found.sentence == f"{order} has been under way since 1 June 2026."
        assert promises(machine, first=june(2), last=june(30)) == []


class TestAsking:
    def test_the_ask_holds_what_is_wanted_and_sending_deals_with_it(self, in_farm, machine):
        BookingFactory(machine=machine)
        made = gate.ask_for(
            machine=machine, hirer="Pau Vila", due_back_on=june(9), member=in_farm.counter, note="One day"
        )
        assert (made.whom, made.first_on, made.last_on, made.against, made.note) == (
            "Pau Vila",
            TODAY,
            june(9),
            [BOOKED],
            "One day",
        )
        out(in_farm, machine, 9, member=in_farm.manager, anyway_reason="Gala agreed")
        made.refresh_from_db()
        assert (made.dealt_by, made.dealt_at) == (in_farm.manager, NOW)
        assert made.outcome == "Out with Pau Vila, due back 9 June 2026."

    def test_going_out_on_other_days_ends_ones_own_ask_alone(self, in_farm, machine):
        BookingFactory(machine=machine)
        gate.ask_for(machine=machine, hirer="Pau Vila", due_back_on=june(9), member=in_farm.counter)
        other = Ask.objects.get()
        out(in_farm, machine, 7)
        other.refresh_from_db()
        assert other.dealt_by == in_farm.counter

    def test_nothing_in_the_way_is_nothing_to_ask(self, in_farm, machine):
        asked = {"machine": machine, "due_back_on": june(9), "member": in_farm.counter}
        with pytest.raises(WrongState, match="Nothing keeps"):
            gate.ask_for(**asked, hirer="Pau Vila")
        BookingFactory(machine=machine)
        with pytest.raises(WrongState, match="Nothing keeps"):
            gate.ask_for(**asked, hirer="Gala Ros")
        with pytest.raises(FleetError) as refused:
            gate.ask_for(**asked, hirer=" ")
        assert refused.value.field == "hirer"

    def test_who_may_do_it_does_not_ask(self, in_farm, machine, stranger):
        BookingFactory(machine=machine)
        asked = {"machine": machine, "due_back_on": june(9), "hirer": "Pau"}
        for member in (in_farm.manager, in_farm.technician, stranger.counter):
            with pytest.raises(NotAllowed):
                gate.ask_for(**asked, member=member)
        assert not asks.to_deal_with(in_farm.owner).exists()
