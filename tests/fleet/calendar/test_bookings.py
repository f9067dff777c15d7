"""Machines are booked: who may, what can't be, and that no day is given twice."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction

from fleet.calendar import bookings
from fleet.calendar.bookings import Facts
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.models import Booking, Machine
from tests.factories import BookingFactory

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)


def facts(first=8, last=12, kind="hire", hours="6", what="Gala Ros"):
    return Facts(
        kind=kind,
        what=what,
        first_on=date(2026, 6, first),
        last_on=date(2026, 6, last),
        hours_a_day=Decimal(hours),
    )


def test_a_booking_asks_for_a_projection(in_farm, machine):
    with time_machine.travel(NOW, tick=False):
        made = bookings.book(machine=machine, facts=facts(), member=in_farm.counter)
    machine.refresh_from_db()
    assert (made.made_by, made.hours_a_day, machine.projection_wanted_at) == (in_farm.counter, 6, NOW)


@pytest.mark.parametrize("change", ["change", "withdraw"])
def test_so_do_its_change_and_its_end(in_farm, machine, change):
    booking = BookingFactory(machine=machine)
    Machine.objects.update(projection_wanted_at=None)
    if change == "change":
        bookings.change(booking=booking, facts=facts(last=9), member=in_farm.manager)
    else:
        bookings.withdraw(booking=booking, member=in_farm.manager)
    machine.refresh_from_db()
    assert machine.projection_wanted_at is not None


@pytest.mark.parametrize(("first", "last"), [(12, 15), (1, 8), (9, 10), (1, 30), (8, 12)])
def test_no_day_is_given_twice(in_farm, machine, first, last):
    BookingFactory(machine=machine)  # the 8th to the 12th
    with pytest.raises(FleetError, match="Booked for Gala Ros from 8 June to 12 June 2026") as refused:
        bookings.book(machine=machine, facts=facts(first, last), member=in_farm.counter)
    assert refused.value.field == "first_on"
    assert Booking.objects.count() == 1


def test_bookings_may_touch_and_a_withdrawn_one_gives_its_days_back(in_farm, machine):
    first = BookingFactory(machine=machine)
    bookings.book(machine=machine, facts=facts(13, 14), member=in_farm.counter)
    bookings.withdraw(booking=first, member=in_farm.counter)
    bookings.book(machine=machine, facts=facts(12, 12), member=in_farm.counter)
    assert Booking.objects.standing().count() == 2


def test_a_booking_may_keep_some_of_its_own_days(in_farm, machine):
    booking = BookingFactory(machine=machine)
    bookings.change(booking=booking, facts=facts(10, 16), member=in_farm.counter)
    booking.refresh_from_db()
    assert (booking.first_on.day, booking.last_on.day) == (10, 16)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite knows no exclusion constraint")
def test_the_database_keeps_the_days_apart_too(in_farm, machine):
    BookingFactory(machine=machine)
    BookingFactory(machine=in_farm.machine())
    BookingFactory(machine=machine, withdrawn_at=NOW)
    with pytest.raises(IntegrityError, match="booked_once_at_a_time"), transaction.atomic():
        BookingFactory(machine=machine, first_on=date(2026, 6, 12), last_on=date(2026, 6, 12))


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"last_on": date(2026, 6, 7)}, "booking_ends_after_it_began"),
        ({"hours_a_day": 25}, "booking_hours_in_a_day"),
        ({"kind": "loan"}, "booking_kind_known"),
    ],
)
def test_the_database_refuses_what_cannot_be(in_farm, machine, wrong, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        BookingFactory(machine=machine, **wrong)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (facts(last=7), "last_on"),
        (facts(hours="24.5"), "hours_a_day"),
        (facts(what=" "), "what"),
        (
            Facts(
                kind="job",
                what="Cut",
                first_on=date(2026, 6, 1),
                last_on=date(2027, 6, 2),  # the 367th day
                hours_a_day=Decimal(1),
            ),
            "last_on",
        ),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(in_farm, machine, wrong, field):
    with pytest.raises(FleetError) as refused:
        bookings.book(machine=machine, facts=wrong, member=in_farm.manager)
    assert refused.value.field == field
    assert not Booking.objects.exists()


def test_a_booking_may_last_a_leap_year(in_farm, machine):
    year = Facts(
        kind="job",
        what="Cut",
        first_on=date(2026, 6, 1),
        last_on=date(2027, 6, 1),
        hours_a_day=Decimal(24),
    )
    bookings.book(machine=machine, facts=year, member=in_farm.manager)
    assert (Booking.objects.get().last_on - date(2026, 6, 1)).days + 1 == 366


def test_who_may(in_farm, machine, stranger):
    for role in ("owner", "manager", "counter"):
        made = bookings.book(machine=machine, facts=facts(), member=getattr(in_farm, role))
        bookings.withdraw(booking=made, member=in_farm.owner)
    bookings.book(machine=machine, facts=facts(kind="job"), member=in_farm.manager)
    job = Booking.objects.standing().get()
    for member, kind in (
        (in_farm.counter, "job"),
        (in_farm.technician, "hire"),
        (stranger.owner, "hire"),
    ):
        with pytest.raises(NotAllowed):
            bookings.book(machine=machine, facts=facts(20, 21, kind=kind), member=member)
        with pytest.raises(NotAllowed):
            bookings.withdraw(booking=job, member=member)
    with pytest.raises(NotAllowed):  # a job made a hire is still the manager's to change
        bookings.change(booking=job, facts=facts(), member=in_farm.counter)


def test_not_a_retired_machine_nor_an_attachment_nor_a_withdrawn_booking(in_farm, machine):
    hung = in_farm.attachment()
    gone = BookingFactory(machine=machine, withdrawn_at=NOW)
    with pytest.raises(WrongState):
        bookings.book(machine=hung, facts=facts(), member=in_farm.manager)
    with pytest.raises(WrongState):
        bookings.change(booking=gone, facts=facts(), member=in_farm.manager)
    Machine.objects.filter(pk=machine.pk).update(retired_on=date(2026, 5, 1))
    with pytest.raises(WrongState):
        bookings.book(machine=machine, facts=facts(), member=in_farm.manager)
