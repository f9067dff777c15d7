"""Machines are booked for a hire or a job; what is booked decides the hours of those days."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.calendar import asks
from fleet.calendar.commitments import Kind, Promise, Promised, booked, hold, overrule, promises
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.core.permission import require_own
from fleet.models import Ask, Booking, Machine, Member
from fleet.readings.propagation import expect_differently

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


def book(*, machine: Machine, facts: Facts, member: Member, override_reason: str = "") -> Booking:
    """Book a machine; its duties are projected again.

    override_reason: why, although it is tagged out, out on hire, or has work planned in these days; kept with
    the booking. Needs the right to plan orders.

    Raises NotAllowed; WrongState for a retired machine or an attachment; Promised with all that is in the
    way; FleetError on `what`, `hours_a_day`, `last_on`. Another booking's days can't be overruled: Promised
    is then on `first_on`.
    """
    booking = Booking(organisation_id=machine.organisation_id, machine=machine, made_by=member)
    return _save(booking, facts, member, override_reason)


def change(*, booking: Booking, facts: Facts, member: Member, override_reason: str = "") -> Booking:
    """Change a standing booking; its days are looked at again where they become others.

    Raises as `book` does; WrongState when it was withdrawn or its hire is over.
    """
    return _save(booking, facts, member, override_reason)


def ask_for(*, machine: Machine, facts: Facts, member: Member, note: str = "") -> Ask:
    """Ask those who plan the work for a booking that something other than a booking is in the way of.

    Raises as `book` does; WrongState where nothing is in the way; see `asks.ask` for the rest.
    """
    _allowed(Booking(organisation_id=machine.organisation_id), facts.kind, member)
    _check(facts, machine)
    with scope(organisation=member.organisation), transaction.atomic():
        machine = hold(machine)
        conflicts = _in_the_way(Booking(machine=machine), facts)
        if not conflicts:
            raise WrongState(_("Nothing is in the way. Book it."))
        return asks.ask(
            machine=machine,
            matter=asks.Matter.BOOK,
            member=member,
            against=[each.sentence for each in conflicts],
            whom=facts.what,
            first_on=facts.first_on,
            last_on=facts.last_on,
            note=note,
        )


def withdraw(*, booking: Booking, member: Member) -> Booking:
    """Call a booking off; withdrawing twice changes nothing. Raises NotAllowed."""
    _allowed(booking, booking.kind, member)
    with scope(organisation=member.organisation), transaction.atomic():
        withdrawn = Booking.objects.standing().filter(pk=booking.pk)
        if withdrawn.update(withdrawn_at=timezone.now(), withdrawn_by=member):
            expect_differently([booking.machine_id])
        booking.refresh_from_db()
    return booking


def _save(booking: Booking, facts: Facts, member: Member, override_reason: str) -> Booking:
    _allowed(booking, facts.kind, member)
    if booking.pk:
        _allowed(booking, booking.kind, member)
    _check(facts, booking.machine)
    with scope(organisation=member.organisation), transaction.atomic():
        # one at a time for a machine, so that no two get the same day
        machine = hold(booking.machine)
        before = Booking.objects.get(pk=booking.pk) if booking.pk else None
        if machine.retired_on:
            raise WrongState(_("{machine} is retired.").format(machine=machine))
        if before and before.withdrawn_at:
            raise WrongState(_("This booking was cancelled. Make a new one."))
        if before and before.fulfilled_at:
            raise WrongState(_("The hire it was made for is over. Make a new booking."))
        if before:
            booking.overruled = before.overruled
        if not before or (before.first_on, before.last_on) != (facts.first_on, facts.last_on):
            conflicts = _in_the_way(booking, facts)
            booking.keep(overrule(conflicts, to=_("book it"), member=member, reason=override_reason))
        booking.kind, booking.what, booking.hours_a_day = facts.kind, facts.what.strip(), facts.hours_a_day
        booking.first_on, booking.last_on = facts.first_on, facts.last_on
        booking.save()
        expect_differently([machine.pk])
        asks.done(
            machine=machine,
            matter=asks.Matter.BOOK,
            member=member,
            outcome=booked(booking),
            days=(booking.first_on, booking.last_on),
        )
    return booking


def _check(facts: Facts, machine: Machine) -> None:
    if not facts.what.strip():
        raise FleetError(_("Say who hires it, or what the job is."), field="what")
    if not 0 <= facts.hours_a_day <= 24:
        raise FleetError(_("Give 0 to 24 hours a day."), field="hours_a_day")
    if machine.is_attachment:
        said = _("{machine} is an attachment. Book the machine it is mounted on.")
        raise WrongState(said.format(machine=machine))
    if facts.last_on < facts.first_on:
        raise FleetError(_("Choose a last day on or after the first."), field="last_on")
    if (facts.last_on - facts.first_on).days >= LONGEST:
        raise FleetError(_("Book a year at most, and the rest later."), field="last_on")


def _in_the_way(booking: Booking, facts: Facts) -> list[Promise]:
    """Return what else these days are promised to. Raises Promised where it is another booking.

    The hire that fulfils this very booking is not in its way.
    """
    found = promises(booking.machine, first=facts.first_on, last=facts.last_on)
    own = set(booking.hires.values_list("pk", flat=True)) if booking.pk else set()
    found = [
        each
        for each in found
        if not (each.kind == Kind.BOOKED and each.pk == booking.pk)
        and not (each.kind == Kind.HIRED and each.pk in own)
    ]
    if any(each.kind == Kind.BOOKED for each in found):
        said = " ".join(each.sentence for each in found)
        raise Promised(
            _("{said} Choose other days, or change that booking first.").format(said=said),
            conflicts=found,
            field="first_on",
        )
    return found


def _allowed(booking: Booking, kind: str, member: Member) -> None:
    require_own(member, booking)
    if not may_book(member, kind):
        raise NotAllowed(
            _("Your role can book hires only.") if member.rights.gate else _("Your role can't book machines.")
        )
