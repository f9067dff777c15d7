"""Checking units out and in: takes the hours through fleet, judges by tag-outs, faults and duties."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from fleet import readings
from fleet.calendar import asks
from fleet.calendar.commitments import Kind, Promise, Promised, hold, promises
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.core.wording import hours
from fleet.models import Ask, Booking, Hire, Machine, Member, Reading
from fleet.models.overruled import Overruling
from fleet.readings.propagation import expect_differently
from servicing import defects
from servicing.models import Defect
from servicing.readiness import TAKES_DAYS, Answer, Verdict, answer, answers, named

__all__ = [
    "Answer",
    "Fault",
    "Kept",
    "ServiceFirst",
    "SpokenFor",
    "TaggedOut",
    "Verdict",
    "add_to_return",
    "answer",
    "answers",
    "ask_for",
    "bookings_near",
    "check_in",
    "check_out",
    "come_back",
    "gone_out",
    "last_hire",
    "look_ahead",
]
NEAR = timedelta(days=14)
"""A booking that begins within this time may be the one a unit goes out for."""


class Kept(WrongState):
    """The gate keeps the unit in; `answer` says why."""

    code = "kept-in"

    def __init__(self, sentence: str, *, answer: Answer, field: str | None = None) -> None:
        super().__init__(sentence, field=field)
        self.answer = answer


class TaggedOut(Kept):
    """Nobody may use it until a named person clears the tag-out."""

    code = "tagged-out"


class ServiceFirst(Kept):
    """It may go only with a reason, given by someone who plans the work."""

    code = "service-first"


class SpokenFor(Kept, Promised):
    """Its days are promised, to another hirer or to work; with a reason, someone who plans may send it."""

    code = "promised"

    def __init__(
        self, sentence: str, *, answer: Answer, conflicts: Sequence[Promise], field: str | None = None
    ) -> None:
        FleetError.__init__(self, sentence, field=field)
        self.answer = answer
        self.conflicts = tuple(conflicts)


@dataclass(frozen=True)
class Fault:
    """A fault seen on the walk round a unit that came back. severity: of Defect.Severity."""

    text: str
    severity: str = Defect.Severity.SOON
    photo: Any = None


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
        raise FleetError("Write who takes it.", field="hirer")
    _check_fuel(fuel)
    if hours_a_day is not None and not 0 <= hours_a_day <= 24:
        raise FleetError("A day has 0 to 24 hours.", field="hours_a_day")
    with transaction.atomic():
        machine = _lock(machine, member)
        _check_for_hire(machine)
        _check_due_back(machine, due_back_on, now)
        reading, held = _take_hours(machine, shows, member, now)
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
        sent = f"Out with {hire.hirer}" + (f", due back {named(due_back_on)}." if due_back_on else ".")
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
        raise FleetError("Write who wants it.", field="hirer")
    with transaction.atomic():
        machine = _lock(machine, member)
        _check_for_hire(machine)
        _check_due_back(machine, due_back_on, now)
        own = _own_booking(machine, hirer, None, due_back_on, now)
        until = due_back_on or (own.last_on if own else None)
        found = answer(machine, at=now, due_back_on=until)
        _check_nobody_forbids(found)
        conflicts = _promised_to_others(machine, hirer, own, until, now)
        if found.is_ready and not conflicts:
            raise WrongState(f"Nothing keeps {machine} in: send it out.")
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


def check_in(
    *,
    machine: Machine,
    shows: Decimal | None,
    fuel: int | None,
    member: Member,
    faults: Sequence[Fault] = (),
    note: str = "",
    hire: Hire | None = None,
    now: datetime | None = None,
) -> Answer:
    """Take a unit back; return the answer to "can it go out again today?", with its `hire` now ended.

    shows, fuel: as in `check_out`. hire: the one it comes back from; None takes the open one, whichever it
    is. Implausible hours are held for a decision and don't stop the return:
    the hire keeps what was typed, the machine's hours stay, and the answer's `held` says so. Faults become
    defects found at the gate.

    Raises NotAllowed; WrongState when it isn't out, or not on that hire any more; FleetError on `shows`,
    `fuel`, or on a fault's `text`, `severity` or `photo`.
    """
    now = now or timezone.now()
    _check_fuel(fuel)
    with transaction.atomic():
        machine = _lock(machine, member)
        open_now = Hire.objects.open().filter(machine=machine).first()
        if open_now is None or (hire and hire.pk != open_now.pk):
            raise WrongState(_not_out(machine, hire))
        hire = open_now
        reading, held = _take_hours(machine, shows, member, now)
        hire.back_at = max(now, hire.out_at)
        hire.hours_back = reading.hours if reading else None
        hire.fuel_back = fuel
        hire.back_by = member
        hire.note_back = note.strip()
        hire.save(update_fields=["back_at", "hours_back", "fuel_back", "back_by", "note_back"])
        _fulfil(hire, machine, now)
        expect_differently([machine.pk])
        _report(faults, machine, member)
        found = answer(machine, at=now)
    return Answer(machine, found.verdict, found.reasons, found.notes, hire, held)


def add_to_return(
    *,
    hire: Hire,
    shows: Decimal | None,
    fuel: int | None,
    member: Member,
    faults: Sequence[Fault] = (),
    note: str = "",
    now: datetime | None = None,
) -> Answer:
    """Keep what a second person saw of a unit that somebody else has taken back; return the answer for it.

    The hours become a reading of their own and the faults defects, as in `check_in`. Of the return itself,
    what stands stays: hours and fuel fill in only what it lacks, the note follows its note with the name.

    Raises NotAllowed; WrongState where the hire hasn't ended; FleetError as `check_in` does, and where
    nothing was entered.
    """
    now = now or timezone.now()
    _check_fuel(fuel)
    with transaction.atomic():
        machine = _lock(hire.machine, member)
        hire = Hire.objects.select_for_update().get(pk=hire.pk)
        if hire.back_at is None:
            raise WrongState(f"{machine} is still out with {hire.hirer}: take it back.")
        if shows is None and not faults and not note.strip() and (fuel is None or hire.fuel_back is not None):
            raise FleetError("Nothing was entered that is not recorded yet.")
        reading, held = _take_hours(machine, shows, member, now)
        if hire.hours_back is None and reading:
            hire.hours_back = reading.hours
        if hire.fuel_back is None:
            hire.fuel_back = fuel
        if note.strip():
            added = f"{note.strip()} ({member}, {named(machine.today(now))})"
            if hire.note_back is None:  # an earlier return's words are in the first note
                hire.note = "\n".join(filter(None, [hire.note, added]))
            else:
                hire.note_back = "\n".join(filter(None, [hire.note_back, added]))
        hire.save(update_fields=["hours_back", "fuel_back", "note", "note_back"])
        expect_differently([machine.pk])
        _report(faults, machine, member)
        found = answer(machine, at=now)
    return Answer(machine, found.verdict, found.reasons, found.notes, hire, held)


def _report(faults: Sequence[Fault], machine: Machine, member: Member) -> None:
    for fault in faults:
        defects.report(
            machine=machine,
            text=fault.text,
            severity=fault.severity,
            photo=fault.photo,
            found_at=Defect.FoundAt.GATE,
            member=member,
        )


def _fulfil(hire: Hire, machine: Machine, now: datetime) -> None:
    """Give back what is left of the booking this hire was for, once its first day has come."""
    if hire.booking_id:
        begun = Booking.objects.standing().filter(pk=hire.booking_id, first_on__lte=machine.today(now))
        begun.update(fulfilled_at=now)


def _lock(machine: Machine, member: Member) -> Machine:
    """Return the machine as it is now, locked until the transaction ends."""
    if not member.rights.gate or member.organisation_id != machine.organisation_id:
        raise NotAllowed("Your role does not send units out or take them back.")
    return hold(machine)


def _check_for_hire(machine: Machine) -> None:
    if machine.retired_on:
        raise WrongState(f"{machine} was retired on {named(machine.retired_on)}.")
    if not machine.for_hire:
        raise WrongState(f"{machine} is not for hire; its page says so, and can be changed there.")


def _check_due_back(machine: Machine, due_back_on: date | None, now: datetime) -> None:
    if due_back_on and due_back_on < machine.today(now):
        raise FleetError("It can't be due back before today; choose another day.", field="due_back_on")


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
        raise FleetError("This booking doesn't stand any more; choose another one or none.", field="booking")
    if due_back_on and own.first_on > due_back_on:
        raise FleetError("This booking begins after the day it is due back.", field="booking")
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


def _check_fuel(fuel: int | None) -> None:
    if fuel is not None and not 0 <= fuel <= 100:
        raise FleetError("Fuel is between 0 and 100 per cent of a full tank.", field="fuel")


def _take_hours(
    machine: Machine, shows: Decimal | None, member: Member, now: datetime
) -> tuple[Reading | None, str]:
    """Hand the hours to fleet; return the reading and, when it is held, a sentence that says so."""
    if shows is None:
        return None, ""
    [receipt] = readings.take(
        organisation=machine.yard.organisation,
        rows=[readings.Submitted(machine=machine.pk, taken_at=now, shows=shows)],
        source=Reading.Source.GATE,
        sender="gate",
        member=member,
        now=now,
    )
    reading = receipt.reading
    if reading is None:
        raise FleetError(receipt.reason, field="shows")
    machine.refresh_from_db(fields=["hours", "hours_at", "projection_wanted_at"])
    if reading.state != Reading.State.HELD:
        return reading, ""
    return reading, (
        f"The hours typed ({hours(reading.shows)}) are held and don't count yet: {reading.reason} "
        "They wait among the held readings for a decision; "
        f"the machine stays at {hours(machine.hours)}."
    )


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
    said = " ".join(each.sentence for each in conflicts)
    if conflicts and due_back_on is None:
        said += " Say by which day it is back, if that is before."
    if not found.is_ready:
        said = f"{found.machine} needs service first. {said}".strip()
    if member.rights.plan_orders and anyway_reason:
        return Overruling(_against(found, conflicts), anyway_reason, str(member), now)
    if member.rights.plan_orders:
        field, next_step = "anyway_reason", "To send it out anyway, write why."
    else:
        field, next_step = None, "Someone who plans the work may send it anyway: ask for it."
    if conflicts:
        raise SpokenFor(f"{said} {next_step}", answer=found, conflicts=conflicts, field=field)
    raise ServiceFirst(f"{said} {next_step}", answer=found, field=field)


def _check_nobody_forbids(found: Answer) -> None:
    """Raise for what no reason overrules: a tag-out, work under way, a hire that is not back."""
    if found.verdict == Verdict.TAGGED_OUT:
        raise TaggedOut(f"{found.machine} can't go out. {found.reasons[0]}", answer=found)
    if found.verdict == Verdict.OUT and found.hire:
        said = gone_out(found.hire, found.machine)
        raise Kept(f"{found.machine} can't go out. {said}", answer=found)
    if found.verdict in (Verdict.IN_SHOP, Verdict.OUT):
        raise Kept(f"{found.machine} can't go out. {found.reasons[0]}", answer=found)


def _against(found: Answer, conflicts: Sequence[Promise]) -> tuple[str, ...]:
    return (*found.reasons, *(each.sentence for each in conflicts))


def gone_out(hire: Hire, machine: Machine) -> str:
    """Return a sentence: with whom it is out, by whom and when it was sent, with which hours and fuel."""
    told = f"with {hire.hirer} since {_moment(machine, hire.out_at)}, sent out by {hire.out_by or 'somebody'}"
    until = f"due back {named(hire.due_back_on)}" if hire.due_back_on else "no day agreed for its return"
    return f"It is out {told}, {until}, at {hours(hire.hours_out)}{_tank(hire.fuel_out)}."


def come_back(hire: Hire, machine: Machine) -> str:
    """Return a sentence: who took it back from whom and when, with which hours and fuel."""
    by = f"by {hire.back_by} " if hire.back_by else ""
    at = f", at {hours(hire.hours_back)}" if hire.hours_back is not None else ", without its hours"
    when = _moment(machine, hire.back_at)
    return f"It was taken back {by}on {when} from {hire.hirer}{at}{_tank(hire.fuel_back)}."


def last_hire(machine: Machine) -> Hire | None:
    """Return the hire a machine came back from last."""
    ended = Hire.objects.with_people().filter(machine=machine).exclude(back_at=None)
    return ended.order_by("-back_at").first()


def _not_out(machine: Machine, meant: Hire | None) -> str:
    ended = (meant and Hire.objects.with_people().filter(pk=meant.pk).first()) or last_hire(machine)
    if ended is None:
        return f"{machine} has not been out."
    said = f"{machine} is back already. {come_back(ended, machine)}"
    again = Hire.objects.open().with_people().filter(machine=machine).first()
    return f"{said} Since then it went out again. {gone_out(again, machine)}" if again else said


def _moment(machine: Machine, at: datetime) -> str:
    local = at.astimezone(machine.zoneinfo)
    return f"{named(local.date())} at {local:%H:%M}"


def _tank(fuel: int | None) -> str:
    return "" if fuel is None else f", tank {fuel}\u00a0% full"
