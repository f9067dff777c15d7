"""A unit goes out, or those who plan the work are asked whether it may."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.calendar import asks
from fleet.calendar.commitments import Kind, Promise, promises
from fleet.core.errors import FleetError, WrongState
from fleet.core.wording import day
from fleet.models import Ask, Booking, Hire, Machine, Member
from fleet.models.overruling import Overruling
from fleet.readings.propagation import expect_differently
from fleet.usage.figures import long_day
from servicing.gate.errors import Kept, ServiceFirst, SpokenFor, TaggedOut
from servicing.gate.hire_wording import gone_out
from servicing.gate.readiness import TAKES_DAYS, Answer, Verdict, answer
from servicing.gate.unit import check_fuel, lock_unit, take_hours

NEAR = timedelta(days=14)
"""A booking that begins within this time may be the one a unit goes out for."""


def look_ahead(machine: Machine, *, now: datetime | None = None) -> Answer:
    """Return the answer for one machine with all that its days are promised to from today on."""
    now = now or timezone.now()
    ahead = promises(machine, first=machine.today(now), last=None, now=now, kinds=TAKES_DAYS)
    return replace(answer(machine, at=now), promised=tuple(ahead))


def bookings_near(machine: Machine, *, now: datetime | None = None) -> QuerySet[Booking]:
    """Return the bookings for a hire that a unit going out today may be meant for, the first one first."""
    today = machine.today(now)
    hires = Booking.objects.standing().filter(machine=machine, kind=Booking.Kind.HIRE)
    return hires.meeting(today, today + NEAR)


def check_out(
    *,
    machine: Machine,
    hirer: str,
    due_back_on: date | None,
    shows: Decimal | None,
    fuel: int | None,
    member: Member,
    note: str = "",
    hours_a_day: Decimal | None = None,
    booking: Booking | None = None,
    anyway_reason: str = "",
    now: datetime | None = None,
) -> Answer:
    """Let a unit go out; return the answer that holds now, with its `hire`; see `check_in` for `held`.

    shows: hours on the meter, None when not read. fuel: per cent of a full tank. booking: the one it goes out
    for; None takes the hirer's own of these days, if there is one. hours_a_day, due_back_on: what it will
    likely run while it is out, and until when; None takes what that booking says. anyway_reason: why it goes
    although service comes first or its days are promised; needs the right to plan orders, and is kept with
    the hire.

    Raises NotAllowed; TaggedOut, ServiceFirst, SpokenFor, or Kept (in the shop, already out) with the answer;
    WrongState for a machine that is retired or not for hire; FleetError on `hirer`, `due_back_on`, `booking`,
    `fuel`, `shows`. Nothing is kept when it is refused, the hours neither.
    """
    now = now or timezone.now()
    if not hirer.strip():
        raise FleetError(_("Say who takes it."), field="hirer")
    check_fuel(fuel)
    if hours_a_day is not None and not 0 <= hours_a_day <= 24:
        raise FleetError(_("A day has 0 to 24 hours."), field="hours_a_day")
    with transaction.atomic():
        machine = lock_unit(machine, member)
        _check_for_hire(machine)
        _check_due_back(machine, due_back_on, now)
        reading, held = take_hours(machine, shows, member, now)
        own = _own_booking(machine, hirer, booking, due_back_on, now)
        if own and due_back_on is None:
            due_back_on = own.last_on
        found = answer(machine, at=now, due_back_on=due_back_on)
        conflicts = _promised_to_others(machine, hirer, own, due_back_on, now)
        hire = Hire(
            organisation_id=machine.organisation_id,
            machine=machine,
            hirer=hirer.strip(),
            booking=own,
            due_back_on=due_back_on,
            out_at=now,
            hours_out=reading.hours if reading else machine.hours,
            fuel_out=fuel,
            hours_a_day=own.hours_a_day if own and hours_a_day is None else hours_a_day,
            out_by=member,
            note=note.strip(),
        )
        hire.keep(_let_go(found, conflicts, due_back_on, member, anyway_reason.strip(), now))
        hire.save()
        expect_differently([machine.pk])
        sent = _sent_out(hire)
        asks.done(machine=machine, matter=Ask.Matter.SEND_OUT, member=member, outcome=sent, now=now)
    return Answer(machine, Verdict.OUT, (sent,), found.notes, hire, held)


def ask_for(
    *,
    machine: Machine,
    hirer: str,
    due_back_on: date | None,
    member: Member,
    note: str = "",
    now: datetime | None = None,
) -> Ask:
    """Ask those who plan the work to send a unit out although service comes first or its days are promised.

    Raises as `check_out` does for what nobody may overrule; WrongState where nothing is in the way; see
    `asks.ask` for the rest.
    """
    now = now or timezone.now()
    if not hirer.strip():
        raise FleetError(_("Say who wants it."), field="hirer")
    with transaction.atomic():
        machine = lock_unit(machine, member)
        _check_for_hire(machine)
        _check_due_back(machine, due_back_on, now)
        own = _own_booking(machine, hirer, None, due_back_on, now)
        until = due_back_on or (own.last_on if own else None)
        found = answer(machine, at=now, due_back_on=until)
        _check_nobody_forbids(found)
        conflicts = _promised_to_others(machine, hirer, own, until, now)
        if found.is_ready and not conflicts:
            raise WrongState(_("Nothing keeps {machine} in: send it out.").format(machine=machine))
        return asks.ask(
            machine=machine,
            matter=Ask.Matter.SEND_OUT,
            member=member,
            against=_against(found, conflicts),
            whom=hirer,
            first_on=machine.today(now),
            last_on=due_back_on,
            note=note,
            now=now,
        )


def _check_for_hire(machine: Machine) -> None:
    if machine.retired_on:
        said = _("{machine} was retired on {day}.")
        raise WrongState(said.format(machine=machine, day=day(machine.retired_on)))
    if not machine.for_hire:
        said = _("{machine} is not for hire. You can change that on its page.")
        raise WrongState(said.format(machine=machine))


def _check_due_back(machine: Machine, due_back_on: date | None, now: datetime) -> None:
    if due_back_on and due_back_on < machine.today(now):
        raise FleetError(_("It can't be due back before today; choose another day."), field="due_back_on")


def _own_booking(
    machine: Machine, hirer: str, chosen: Booking | None, due_back_on: date | None, now: datetime
) -> Booking | None:
    """The booking this going out fulfils: the chosen one, else the hirer's own that these days meet."""
    today = machine.today(now)
    hires = Booking.objects.standing().filter(machine=machine, kind=Booking.Kind.HIRE)
    if chosen is None:
        meeting = hires.meeting(today, due_back_on or today)
        return next((each for each in meeting if _same(each.what, hirer)), None)
    own = hires.from_day(today).filter(pk=chosen.pk).first()
    if own is None:
        raise FleetError(_("This booking was cancelled or used; choose another, or none."), field="booking")
    if due_back_on and own.first_on > due_back_on:
        raise FleetError(_("This booking begins after the day it is due back."), field="booking")
    return own


def _promised_to_others(
    machine: Machine, hirer: str, own: Booking | None, due_back_on: date | None, now: datetime
) -> list[Promise]:
    """What else takes the days until it is due back; all days to come where none is agreed."""
    found = promises(machine, first=machine.today(now), last=due_back_on, now=now, kinds=TAKES_DAYS)
    booked = [each.pk for each in found if each.kind == Kind.BOOKED]
    names = [hirer, own.what] if own else [hirer]
    hirers = Booking.objects.filter(pk__in=booked, kind=Booking.Kind.HIRE)
    theirs = {each.pk for each in hirers if any(_same(each.what, name) for name in names)}
    return [each for each in found if each.kind != Kind.BOOKED or each.pk not in theirs]


def _same(one: str, other: str) -> bool:
    """Whether two names are the same but for their capitals and spaces."""
    return one.casefold().split() == other.casefold().split()


def _let_go(
    found: Answer,
    conflicts: Sequence[Promise],
    due_back_on: date | None,
    member: Member,
    anyway_reason: str,
    now: datetime,
) -> Overruling | None:
    """Raise unless the unit may go out on this answer; return what was overruled, if anything was."""
    _check_nobody_forbids(found)
    if found.is_ready and not conflicts:
        return None
    told = [each.sentence for each in conflicts]
    if conflicts and due_back_on is None:
        told.append(_("If it is back before that, say on which day."))
    if not found.is_ready:
        told.insert(0, _("{machine} needs service first.").format(machine=found.machine))
    if member.rights.plan_orders and anyway_reason:
        return Overruling(_against(found, conflicts), anyway_reason, str(member), now)
    if member.rights.plan_orders:
        field, next_step = "anyway_reason", _("To send it out anyway, say why.")
    else:
        field, next_step = None, _("Someone who plans the work can send it out anyway: ask for it.")
    said = " ".join([*told, next_step])
    if conflicts:
        raise SpokenFor(said, answer=found, conflicts=conflicts, field=field)
    raise ServiceFirst(said, answer=found, field=field)


def _check_nobody_forbids(found: Answer) -> None:
    """Raise for what no reason overrules: a tag-out, work under way, a hire that is not back."""
    if found.verdict == Verdict.TAGGED_OUT:
        raise TaggedOut(_stays(found, found.reasons[0]), answer=found)
    if found.verdict == Verdict.OUT and found.hire:
        raise Kept(_stays(found, gone_out(found.hire, found.machine)), answer=found)
    if found.verdict in (Verdict.IN_SHOP, Verdict.OUT):
        raise Kept(_stays(found, found.reasons[0]), answer=found)


def _stays(found: Answer, why: str) -> str:
    return _("{machine} can't go out. {why}").format(machine=found.machine, why=why)


def _sent_out(hire: Hire) -> str:
    if hire.due_back_on is None:
        return _("Out with {hirer}.").format(hirer=hire.hirer)
    return _("Out with {hirer}, due back {day}.").format(hirer=hire.hirer, day=long_day(hire.due_back_on))


def _against(found: Answer, conflicts: Sequence[Promise]) -> tuple[str, ...]:
    return (*found.reasons, *(each.sentence for each in conflicts))
