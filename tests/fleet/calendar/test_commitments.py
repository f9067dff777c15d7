"""The one calendar of a machine as bookings look at it; what is asked of those who may."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from fleet.calendar import asks, bookings, commitments
from fleet.calendar.bookings import Facts
from fleet.calendar.commitments import Kind, Promised, promises
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import tag_outs
from fleet.models import Ask, Booking, Hire, Mounting, TagOut
from tests.factories import BookingFactory

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
TODAY = date(2026, 6, 1)
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def facts(first=8, last=12, kind="hire", what="Gala Ros"):
    return Facts(
        kind=kind,
        what=what,
        first_on=date(2026, 6, first),
        last_on=date(2026, 6, last),
        hours_a_day=Decimal(6),
    )


def hire(machine, **values):
    values = {"hirer": "Pau Vila", "out_at": NOW - timedelta(days=2), "hours_out": 0, **values}
    return Hire.objects.create(organisation=machine.organisation, machine=machine, **values)


def tag(machine, member):
    return tag_outs.place(machine=machine, reason="Brakes failed", member=member)


def hang(farm, machine):
    hung = farm.attachment(tag="A-1")
    Mounting.objects.create(
        organisation=farm.organisation, attachment=hung, machine=machine, mounted_at=NOW, hours_on=0
    )
    return hung


class TestCalendar:
    def test_a_day_with_nothing_is_free(self, in_farm, machine):
        assert promises(machine, first=TODAY, last=None) == []

    @pytest.mark.parametrize(
        ("first", "last", "meets"),
        [(5, 7, False), (5, 8, True), (8, 12, True), (12, 12, True), (13, 30, False), (1, None, True)],
    )
    def test_a_booking_takes_its_days_both_included(self, in_farm, machine, first, last, meets):
        BookingFactory(machine=machine)
        asked = {"first": date(2026, 6, first), "last": last and date(2026, 6, last)}
        assert bool(promises(machine, **asked)) is meets

    def test_withdrawn_and_fulfilled_bookings_and_hires_that_are_over_take_none(self, in_farm, machine):
        BookingFactory(machine=machine, withdrawn_at=NOW)
        BookingFactory(machine=machine, fulfilled_at=NOW)
        hire(machine, back_at=NOW)
        TagOut.objects.create(
            organisation=in_farm.organisation,
            machine=machine,
            reason="x",
            cleared_by=in_farm.manager,
            cleared_at=NOW,
            clear_reason="y",
        )
        assert promises(machine, first=TODAY, last=None) == []

    @pytest.mark.parametrize(
        ("due", "day", "meets"),
        [
            (date(2026, 6, 9), 9, True),
            (date(2026, 6, 9), 10, False),
            (date(2026, 5, 31), 1, True),  # overdue: out today still
            (date(2026, 5, 31), 2, False),
            (None, 30, True),
        ],
    )
    def test_a_hire_lasts_until_it_is_due_or_without_an_end(self, in_farm, machine, due, day, meets):
        hire(machine, due_back_on=due)
        found = promises(machine, first=date(2026, 6, day), last=date(2026, 6, day))
        assert bool(found) is meets

    def test_the_days_are_the_yards(self, in_farm, machine):
        """In Madrid the 31st of May ends at 22:00 UTC."""
        hire(machine, out_at=datetime(2026, 5, 31, 22, 30, tzinfo=UTC), due_back_on=TODAY)
        [found] = promises(machine, first=date(2026, 5, 31), last=TODAY)
        assert found.first_on == TODAY
        assert found.sentence == "Out with Pau Vila since 1 June 2026, due back 1 June 2026."

    def test_what_hangs_on_it_counts_for_it_and_its_bookings_count_for_what_hangs_on_it(
        self, in_farm, machine
    ):
        hung = hang(in_farm, machine)
        tag(hung, in_farm.technician)
        BookingFactory(machine=machine)
        [of_host, _] = promises(machine, first=TODAY, last=date(2026, 6, 8))
        assert of_host.sentence.startswith("A-1 is mounted on it. Tagged out by")
        assert [each.kind for each in promises(hung, first=TODAY, last=None)] == [
            Kind.TAGGED_OUT,
            Kind.BOOKED,
        ]

    def test_gravest_first_and_then_by_day(self, in_farm, machine):
        BookingFactory(machine=machine, first_on=date(2026, 6, 20), last_on=date(2026, 6, 21))
        BookingFactory(machine=machine)
        hire(machine)
        tag(machine, in_farm.technician)
        found = promises(machine, first=TODAY, last=None)
        assert [(each.kind, each.first_on.day) for each in found] == [
            ("tagged-out", 1),
            ("hired", 30),
            ("booked", 8),
            ("booked", 20),
        ]

    def test_others_fill_it_too(self, in_farm, machine, monkeypatch):
        def mine(reach, now):
            for days in reach[machine.pk]:
                yield days, commitments.Promise(Kind.WORK, 1, "Order 1.", date(2026, 6, 9), date(2026, 6, 9))

        monkeypatch.setattr(commitments, "also_promised", [mine])
        with pytest.raises(Promised, match="Order 1"):
            bookings.book(machine=machine, facts=facts(), member=in_farm.counter)


class TestBooking:
    def test_a_tagged_out_machine_is_not_booked_without_a_word(self, in_farm, machine):
        tag(machine, in_farm.technician)
        with pytest.raises(Promised) as refused:
            bookings.book(
                machine=machine, facts=facts(), member=in_farm.counter, override_reason="They will hurry"
            )
        assert refused.value.sentence == (
            f"Tagged out by {in_farm.technician} on 1 June 2026: Brakes failed. "
            "Ask someone who plans the work to book it."
        )
        assert not Booking.objects.exists()

    def test_who_plans_may_with_a_reason_and_it_is_kept(self, in_farm, machine):
        tag(machine, in_farm.technician)
        hire(machine, due_back_on=date(2026, 6, 8))
        for reason in ("", "  "):
            with pytest.raises(Promised, match="say why") as refused:
                bookings.book(machine=machine, facts=facts(), member=in_farm.manager, override_reason=reason)
            assert refused.value.field == "override_reason"
            assert [each.kind for each in refused.value.conflicts] == ["tagged-out", "hired"]
        made = bookings.book(
            machine=machine, facts=facts(), member=in_farm.manager, override_reason=" Pads come tomorrow "
        )
        [kept] = Booking.objects.get(pk=made.pk).overrulings()
        assert (kept.reason, kept.by, kept.at) == ("Pads come tomorrow", str(in_farm.manager), NOW)
        assert kept.against == (
            f"Tagged out by {in_farm.technician} on 1 June 2026: Brakes failed.",
            "Out with Pau Vila since 30 May 2026, due back 8 June 2026.",
        )

    def test_no_reason_overrules_another_booking(self, in_farm, machine):
        tag(machine, in_farm.technician)
        BookingFactory(machine=machine)
        with pytest.raises(Promised, match="Choose other days, or change that booking first") as refused:
            bookings.book(machine=machine, facts=facts(), member=in_farm.owner, override_reason="x")
        assert refused.value.field == "first_on"
        assert [each.kind for each in refused.value.conflicts] == ["tagged-out", "booked"]

    def test_a_change_of_the_hours_asks_nothing_and_keeps_what_was_overruled(self, in_farm, machine):
        made = bookings.book(machine=machine, facts=facts(), member=in_farm.counter)
        tag(machine, in_farm.technician)
        bookings.change(booking=made, facts=facts(what="Gala R."), member=in_farm.counter)
        with pytest.raises(Promised):
            bookings.change(booking=made, facts=facts(last=13), member=in_farm.counter)
        for last in (13, 14):
            bookings.change(
                booking=Booking.objects.get(pk=made.pk),
                facts=facts(last=last),
                member=in_farm.manager,
                override_reason=f"Until the {last}th",
            )
        made.refresh_from_db()
        assert [each.reason for each in made.overrulings()] == ["Until the 13th", "Until the 14th"]

    def test_a_booking_whose_hire_is_over_is_not_changed(self, in_farm, machine):
        made = BookingFactory(machine=machine, fulfilled_at=NOW)
        with pytest.raises(WrongState, match="is over"):
            bookings.change(booking=made, facts=facts(), member=in_farm.manager)


class TestAsks:
    def ask(self, farm, machine, **values):
        return bookings.ask_for(machine=machine, facts=facts(), member=farm.counter, **values)

    def test_an_ask_says_what_is_wanted_and_what_is_in_the_way(self, in_farm, machine):
        tag(machine, in_farm.technician)
        made = self.ask(in_farm, machine, note=" A good customer ")
        assert (made.whom, made.first_on.day, made.last_on.day, made.note, made.asked_by) == (
            "Gala Ros",
            8,
            12,
            "A good customer",
            in_farm.counter,
        )
        assert made.against == [f"Tagged out by {in_farm.technician} on 1 June 2026: Brakes failed."]
        assert asks.to_deal_with(in_farm.manager).get() == made
        assert not asks.to_deal_with(in_farm.counter).exists()
        assert not asks.to_deal_with(in_farm.technician).exists()

    def test_one_ask_for_a_machine_and_a_matter(self, in_farm, machine):
        tag(machine, in_farm.technician)
        self.ask(in_farm, machine)
        tag_outs.ask_to_clear(machine=machine, member=in_farm.counter)
        with pytest.raises(WrongState, match=f"{in_farm.counter} asked for this on 1 June 2026 for Gala Ros"):
            self.ask(in_farm, machine)
        assert Ask.objects.count() == 2

    def test_nothing_to_ask_for(self, in_farm, machine):
        with pytest.raises(WrongState, match="Nothing is in the way"):
            self.ask(in_farm, machine)
        with pytest.raises(WrongState, match="not tagged out"):
            tag_outs.ask_to_clear(machine=machine, member=in_farm.counter)
        BookingFactory(machine=machine)
        with pytest.raises(Promised, match="Choose other days, or change that booking first"):
            self.ask(in_farm, machine)
        assert not Ask.objects.exists()

    def test_who_may_ask_and_answer(self, in_farm, machine, stranger):
        tag(machine, in_farm.technician)
        for member in (in_farm.technician, in_farm.manager, stranger.counter):
            with pytest.raises(NotAllowed):
                tag_outs.ask_to_clear(machine=machine, member=member)
        made = tag_outs.ask_to_clear(machine=machine, member=in_farm.counter)
        for member in (in_farm.technician, in_farm.counter, stranger.owner):
            with pytest.raises(NotAllowed):
                asks.deal_with(ask=made, member=member, outcome="Yes")

    def test_dealt_with_once_and_in_words(self, in_farm, machine):
        tag(machine, in_farm.technician)
        made = tag_outs.ask_to_clear(machine=machine, member=in_farm.counter)
        with pytest.raises(FleetError) as refused:
            asks.deal_with(ask=made, member=in_farm.manager, outcome=" ")
        assert refused.value.field == "outcome"
        dealt = asks.deal_with(ask=made, member=in_farm.manager, outcome=" Not before Monday ")
        assert (dealt.dealt_by, dealt.dealt_at, dealt.outcome) == (in_farm.manager, NOW, "Not before Monday")
        with pytest.raises(WrongState, match=f"{in_farm.manager} has answered this already: Not before"):
            asks.deal_with(ask=made, member=in_farm.owner, outcome="Yes")
        assert tag_outs.ask_to_clear(machine=machine, member=in_farm.counter).pk != made.pk

    def test_the_last_clearing_deals_with_the_ask_for_it(self, in_farm, machine):
        hung = hang(in_farm, machine)
        both = [tag(machine, in_farm.technician), tag(hung, in_farm.technician)]
        made = tag_outs.ask_to_clear(machine=machine, member=in_farm.counter)
        tag_outs.clear(tag_out=both[0], reason="Pads are new", member=in_farm.manager)
        made.refresh_from_db()
        assert made.dealt_at is None  # what hangs on it is still tagged out
        tag_outs.clear(tag_out=both[1], reason="Pin replaced", member=in_farm.owner)
        made.refresh_from_db()
        assert (made.dealt_by, made.outcome) == (in_farm.owner, "Cleared: Pin replaced")

    @pytest.mark.parametrize(("first", "dealt"), [(12, True), (13, False)])
    def test_a_booking_of_those_days_deals_with_the_ask_for_it(self, in_farm, machine, first, dealt):
        tag(machine, in_farm.technician)
        made = self.ask(in_farm, machine)
        bookings.book(
            machine=machine, facts=facts(first, 14), member=in_farm.manager, override_reason="Pads come"
        )
        made.refresh_from_db()
        assert (made.dealt_by is not None) is dealt
        assert made.outcome == ("Booked for Gala Ros from 12 June to 14 June 2026." if dealt else "")

    def test_asks_of_a_retired_machine_wait_for_nobody(self, in_farm, machine):
        tag(machine, in_farm.technician)
        self.ask(in_farm, machine)
        machine.retired_on = TODAY
        machine.save()
        assert not asks.to_deal_with(in_farm.manager).exists()
