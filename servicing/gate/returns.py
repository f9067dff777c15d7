"""A unit comes back, and what others saw of it is added to its return."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, WrongState
from fleet.models import Booking, Hire, Machine, Member
from fleet.readings.propagation import expect_differently
from fleet.usage.figures import long_day
from servicing.gate.faults import report_fault
from servicing.gate.hire_wording import come_back, gone_out, last_hire
from servicing.gate.readiness import Answer, answer
from servicing.gate.unit import check_fuel, lock_unit, take_hours
from servicing.models import Fault


@dataclass(frozen=True)
class FaultSeen:
    """A fault seen on the walk round a unit that came back. severity: of Fault.Severity."""

    text: str
    severity: str = Fault.Severity.SOON
    photo: Any = None


def check_in(
    *,
    machine: Machine,
    shows: Decimal | None,
    fuel: int | None,
    member: Member,
    faults: Sequence[FaultSeen] = (),
    note: str = "",
    hire: Hire | None = None,
    now: datetime | None = None,
) -> Answer:
    """Take a unit back; return the answer to "can it go out again today?", with its `hire` now ended.

    shows, fuel: as in `check_out`. hire: the one it comes back from; None takes the open one, whichever it
    is. Implausible hours are held for a decision and don't stop the return: the hire keeps what was typed,
    the machine's hours stay, and the answer's `held` says so.

    Raises NotAllowed; WrongState when it isn't out, or not on that hire any more; FleetError on `shows`,
    `fuel`, or on a fault's `text`, `severity` or `photo`.
    """
    now = now or timezone.now()
    check_fuel(fuel)
    with transaction.atomic():
        machine = lock_unit(machine, member)
        open_now = Hire.objects.open().filter(machine=machine).first()
        if open_now is None or (hire and hire.pk != open_now.pk):
            raise WrongState(_not_out(machine, hire))
        hire = open_now
        reading, held = take_hours(machine, shows, member, now)
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
    faults: Sequence[FaultSeen] = (),
    note: str = "",
    now: datetime | None = None,
) -> Answer:
    """Keep what a second person saw of a unit that somebody else has taken back; return the answer for it.

    The hours become a reading of their own and the faults are kept, as in `check_in`. Of the return itself,
    what stands stays: hours and fuel fill in only what it lacks, the note follows its note with the name.

    Raises NotAllowed; WrongState where the hire hasn't ended; FleetError as `check_in` does, and where
    nothing was entered.
    """
    now = now or timezone.now()
    check_fuel(fuel)
    with transaction.atomic():
        machine = lock_unit(hire.machine, member)
        hire = Hire.objects.select_for_update().get(pk=hire.pk)
        if hire.back_at is None:
            out = _("{machine} is still out with {hirer}: take it back.")
            raise WrongState(out.format(machine=machine, hirer=hire.hirer))
        if shows is None and not faults and not note.strip() and (fuel is None or hire.fuel_back is not None):
            raise FleetError(_("All of this is recorded already."))
        reading, held = take_hours(machine, shows, member, now)
        if hire.hours_back is None and reading:
            hire.hours_back = reading.hours
        if hire.fuel_back is None:
            hire.fuel_back = fuel
        if note.strip():
            added = f"{note.strip()} ({member}, {long_day(machine.today(now))})"
            if hire.note_back is None:  # an earlier return's words are in the first note
                hire.note = "\n".join(filter(None, [hire.note, added]))
            else:
                hire.note_back = "\n".join(filter(None, [hire.note_back, added]))
        hire.save(update_fields=["hours_back", "fuel_back", "note", "note_back"])
        expect_differently([machine.pk])
        _report(faults, machine, member)
        found = answer(machine, at=now)
    return Answer(machine, found.verdict, found.reasons, found.notes, hire, held)


def _report(faults: Sequence[FaultSeen], machine: Machine, member: Member) -> None:
    for fault in faults:
        report_fault(
            machine=machine,
            text=fault.text,
            severity=fault.severity,
            photo=fault.photo,
            found_at=Fault.FoundAt.GATE,
            member=member,
        )


def _fulfil(hire: Hire, machine: Machine, now: datetime) -> None:
    """Give back what is left of the booking this hire was for, once its first day has come."""
    if hire.booking_id:
        begun = Booking.objects.standing().filter(pk=hire.booking_id, first_on__lte=machine.today(now))
        begun.update(fulfilled_at=now)


def _not_out(machine: Machine, meant: Hire | None) -> str:
    ended = (meant and Hire.objects.with_people().filter(pk=meant.pk).first()) or last_hire(machine)
    if ended is None:
        return _("{machine} has not been out.").format(machine=machine)
    said = [_("{machine} is back already.").format(machine=machine), come_back(ended, machine)]
    again = Hire.objects.open().with_people().filter(machine=machine).first()
    if again:
        said += [_("Since then it went out again."), gone_out(again, machine)]
    return " ".join(said)
