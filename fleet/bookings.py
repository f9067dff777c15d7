"""Machines are booked for a hire or a job; what is booked decides the hours of those days."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django_scopes import scope

from fleet.errors import FleetError, NotAllowed, WrongState
from fleet.models import Booking, Machine, Member
from fleet.moved import expect_differently
from fleet.usage.figures import long_day

LONGEST = 366  # days


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What a booking says. kind: of Booking.Kind. Days: the yard's, both included."""

    kind: str
    what: str
    first_on: date
    last_on: date
    hours_a_day: Decimal


def may_book(member: Member, kind: str) -> bool:
    """Whether the member may make, change and withdraw bookings of a kind: the counter books hires."""
    return member.rights.manage_fleet or (kind == Booking.Kind.HIRE and member.rights.gate)


def book(*, machine: Machine, facts: Facts, member: Member) -> Booking:
    """Book a machine; its duties are projected anew.

    Raises NotAllowed; WrongState for a retired machine or an attachment; FleetError on `what`, `hours_a_day`,
    `last_on`, and on `first_on` where another booking has one of the days.
    """
    booking = Booking(organisation_id=machine.organisation_id, machine=machine, made_by=member)
    return _save(booking, facts, member)


def change(*, booking: Booking, facts: Facts, member: Member) -> Booking:
    """Change a standing booking. Raises as `book` does; WrongState when it was withdrawn."""
    return _save(booking, facts, member)


def withdraw(*, booking: Booking, member: Member) -> Booking:
    """Call a booking off; withdrawing twice changes nothing. Raises NotAllowed."""
    _allowed(booking, booking.kind, member)
    with scope(organisation=member.organisation), transaction.atomic():
        withdrawn = Booking.objects.standing().filter(pk=booking.pk)
        if withdrawn.update(withdrawn_at=timezone.now(), withdrawn_by=member):
            expect_differently([booking.machine_id])
        booking.refresh_from_db()
    return booking


def _save(booking: Booking, facts: Facts, member: Member) -> Booking:
    _allowed(booking, facts.kind, member)
    if booking.pk:
        _allowed(booking, booking.kind, member)
    if not facts.what.strip():
        raise FleetError("Write who hires it, or what the job is.", field="what")
    if not 0 <= facts.hours_a_day <= 24:
        raise FleetError("A day has 0 to 24 hours.", field="hours_a_day")
    if booking.machine.is_attachment:
        raise WrongState(f"{booking.machine} runs with the machine it hangs on; book that one.")
    if facts.last_on < facts.first_on:
        raise FleetError("It can't end before it begins.", field="last_on")
    if (facts.last_on - facts.first_on).days >= LONGEST:
        raise FleetError("Book a year at most, and more when it comes near.", field="last_on")
    with scope(organisation=member.organisation), transaction.atomic():
        # one at a time for a machine, so that no two get the same day
        machine = Machine.objects.select_for_update(of=("self",)).get(pk=booking.machine_id)
        if machine.retired_on:
            raise WrongState(f"{machine} is retired.")
        if booking.pk and Booking.objects.get(pk=booking.pk).withdrawn_at:
            raise WrongState("This booking was withdrawn; make a new one.")
        others = Booking.objects.standing().filter(machine=machine).exclude(pk=booking.pk)
        if taken := others.meeting(facts.first_on, facts.last_on).first():
            days = f"from {long_day(taken.first_on)} to {long_day(taken.last_on)}"
            raise FleetError(f"{machine} is booked for {taken.what} {days}.", field="first_on")
        booking.kind, booking.what, booking.hours_a_day = facts.kind, facts.what.strip(), facts.hours_a_day
        booking.first_on, booking.last_on = facts.first_on, facts.last_on
        booking.save()
        expect_differently([machine.pk])
    return booking


def _allowed(booking: Booking, kind: str, member: Member) -> None:
    if member.organisation_id != booking.organisation_id or not may_book(member, kind):
        raise NotAllowed(
            "Your role books hires only." if member.rights.gate else "Your role does not book machines."
        )
