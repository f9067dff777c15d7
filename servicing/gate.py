"""Checking units out and in: takes the hours through fleet, judges by tag-outs, faults and duties."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from fleet import readings
from fleet.errors import FleetError, NotAllowed, WrongState
from fleet.models import Booking, Hire, Machine, Member, Reading
from fleet.templatetags.figures import hours
from servicing import defects, due
from servicing.models import Defect
from servicing.readiness import Answer, Verdict, answer, answers, named

__all__ = [
    "Answer",
    "Fault",
    "Kept",
    "ServiceFirst",
    "TaggedOut",
    "Verdict",
    "answer",
    "answers",
    "check_in",
    "check_out",
]


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


@dataclass(frozen=True)
class Fault:
    """A fault seen on the walk round a unit that came back. severity: of Defect.Severity."""

    text: str
    severity: str = Defect.Severity.SOON
    photo: Any = None


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
    anyway_reason: str = "",
    now: datetime | None = None,
) -> Answer:
    """Let a unit go out; return the answer that holds now, with its `hire`; see `check_in` for `held`.

    shows: hours on the meter, None when not read. fuel: per cent of a full tank. hours_a_day: what it will
    likely run while it is out; None takes what it is booked for today at, if it is. anyway_reason: why it
    goes although service comes first; needs the right to plan orders, and is kept with the hire.

    Raises NotAllowed; TaggedOut, ServiceFirst, or Kept (in the shop, already out) with the answer; WrongState
    for a machine that is retired or not for hire; FleetError on `hirer`, `due_back_on`, `fuel`, `shows`.
    Nothing is kept when it is refused, the hours neither.
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
        if due_back_on and due_back_on < machine.today(now):
            raise FleetError("It can't be due back before today; choose another day.", field="due_back_on")
        reading, held = _take_hours(machine, shows, member, now)
        found = answer(machine, at=now, due_back_on=due_back_on)
        _let_go(found, member, anyway_reason.strip())
        hire = Hire.objects.create(
            organisation_id=machine.organisation_id,
            machine=machine,
            hirer=hirer.strip(),
            due_back_on=due_back_on,
            out_at=now,
            hours_out=reading.hours if reading else machine.hours,
            fuel_out=fuel,
            hours_a_day=_booked_at(machine, now) if hours_a_day is None else hours_a_day,
            out_by=member,
            note=_note(note, found, member, anyway_reason),
        )
        due.want([machine.pk])
    sent = f"Out with {hire.hirer}" + (f", due back {named(due_back_on)}." if due_back_on else ".")
    return Answer(machine, Verdict.OUT, (sent,), found.notes, hire, held)


def check_in(
    *,
    machine: Machine,
    shows: Decimal | None,
    fuel: int | None,
    member: Member,
    faults: Sequence[Fault] = (),
    note: str = "",
    now: datetime | None = None,
) -> Answer:
    """Take a unit back; return the answer to "can it go out again today?", with its `hire` now ended.

    shows, fuel: as in `check_out`. Implausible hours are held for a decision and don't stop the return:
    the hire keeps what was typed, the machine's hours stay, and the answer's `held` says so. Faults become
    defects found at the gate.

    Raises NotAllowed; WrongState when it isn't out; FleetError on `shows`, `fuel`, or on a fault's `text`,
    `severity` or `photo`.
    """
    now = now or timezone.now()
    _check_fuel(fuel)
    with transaction.atomic():
        machine = _lock(machine, member)
        hire = Hire.objects.open().filter(machine=machine).first()
        if hire is None:
            raise WrongState(_not_out(machine))
        reading, held = _take_hours(machine, shows, member, now)
        hire.back_at = max(now, hire.out_at)
        hire.hours_back = reading.hours if reading else None
        hire.fuel_back = fuel
        hire.back_by = member
        hire.note = "\n".join(filter(None, [hire.note, note.strip()]))
        hire.save(update_fields=["back_at", "hours_back", "fuel_back", "back_by", "note"])
        due.want([machine.pk])
        for fault in faults:
            defects.report(
                machine=machine,
                text=fault.text,
                severity=fault.severity,
                photo=fault.photo,
                found_at=Defect.FoundAt.GATE,
                member=member,
            )
        found = answer(machine, at=now)
    return Answer(machine, found.verdict, found.reasons, found.notes, hire, held)


def _lock(machine: Machine, member: Member) -> Machine:
    """Return the machine as it is now, locked until the transaction ends."""
    if not member.rights.gate or member.organisation_id != machine.organisation_id:
        raise NotAllowed("Your role does not send units out or take them back.")
    return (
        Machine.objects.select_related("yard__organisation", "type")
        .select_for_update(of=("self",))
        .get(pk=machine.pk)
    )


def _check_for_hire(machine: Machine) -> None:
    if machine.retired_on:
        raise WrongState(f"{machine} was retired on {named(machine.retired_on)}.")
    if not machine.for_hire:
        raise WrongState(f"{machine} is not for hire; its page says so, and can be changed there.")


def _booked_at(machine: Machine, now: datetime) -> Decimal | None:
    """The hours a day it is booked for a hire at today; None when it isn't."""
    today = machine.today(now)
    hires = Booking.objects.standing().filter(machine=machine, kind=Booking.Kind.HIRE)
    return hires.meeting(today, today).values_list("hours_a_day", flat=True).first()


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


def _let_go(found: Answer, member: Member, anyway_reason: str) -> None:
    """Raise unless the unit may go out on this answer."""
    if found.verdict == Verdict.TAGGED_OUT:
        raise TaggedOut(f"{found.machine} can't go out. {found.reasons[0]}", answer=found)
    if found.verdict in (Verdict.IN_SHOP, Verdict.OUT):
        raise Kept(f"{found.machine} can't go out. {found.reasons[0]}", answer=found)
    if found.verdict != Verdict.SERVICE_FIRST:
        return
    if not member.rights.plan_orders:
        raise ServiceFirst(
            f"{found.machine} needs service first. Someone who plans the work may send it anyway.",
            answer=found,
        )
    if not anyway_reason:
        raise ServiceFirst(
            "Service comes first; to send it out anyway, write why.", answer=found, field="anyway_reason"
        )


def _note(note: str, found: Answer, member: Member, anyway_reason: str) -> str:
    """The hire's note; where service should have come first, also who sent it anyway and against what."""
    if found.is_ready:
        return note.strip()
    sent = f"Sent out before its service by {member}: {anyway_reason.strip()}"
    return "\n".join(filter(None, [note.strip(), sent, *found.reasons]))


def _not_out(machine: Machine) -> str:
    last = Hire.objects.filter(machine=machine).select_related("back_by__user").order_by("-back_at").first()
    if last is None:
        return f"{machine} has not been out."
    by = f" by {last.back_by}" if last.back_by else ""
    return f"{machine} is back already: taken in{by} on {named(machine.today(last.back_at))}."
