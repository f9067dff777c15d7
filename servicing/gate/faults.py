"""Faults: anybody who sees one reports it, with a photo where that helps; those alike are shown together."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core.files import File
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, WrongState
from fleet.core.permission import require, require_own
from fleet.core.photos import checked_photo
from fleet.models import Machine, Member
from fleet.usage.figures import long_day
from servicing.ledger.repeated_faults import gather
from servicing.models import Fault

LOOK_BACK = timedelta(days=365)
GRAVEST_LAST = (Fault.Severity.NOTE, Fault.Severity.SOON, Fault.Severity.STOPS)


def report_fault(
    *,
    machine: Machine,
    text: str,
    severity: str,
    member: Member,
    photo: File | None = None,
    found_at: str = Fault.FoundAt.FIELD,
) -> Fault:
    """Write down a fault of a machine; return it.

    severity and found_at: of Fault.Severity and Fault.FoundAt. A fault that must be fixed first keeps the
    machine from going out. Raises NotAllowed; FleetError on `text`, `severity` or `photo`.
    """
    require_own(member, machine)
    if not text.strip():
        raise FleetError(_("Say what is wrong, so that others can find it."), field="text")
    if severity not in Fault.Severity.values:
        raise FleetError(_("Choose how bad it is."), field="severity")
    with transaction.atomic():
        return Fault.objects.create(
            organisation_id=machine.organisation_id,
            machine=machine,
            text=text.strip(),
            severity=severity,
            photo=checked_photo(photo) if photo else "",
            found_at=found_at,
            reported_by=member,
        )


def judge_again(*, fault: Fault, severity: str, reason: str, member: Member) -> Fault:
    """Say anew how bad an open fault is; return it. The reason is added to its text, with name and day.

    Raises NotAllowed; WrongState for a fault that was put right; FleetError on `severity` or `reason`.
    """
    require(member, "plan_orders", _("judge faults"), fault)
    if severity not in Fault.Severity.values:
        raise FleetError(_("Choose how bad it is."), field="severity")
    if not reason.strip():
        raise FleetError(_("Say why, so that others can follow."), field="reason")
    with transaction.atomic():
        rows = Fault.objects.select_related("machine__yard__organisation")
        fault = rows.select_for_update(of=("self",)).get(pk=fault.pk)
        if fault.fixed_at:
            raise WrongState(_("This fault was put right already."))
        said = _("{severity}, says {who} on {day}: {reason}").format(
            severity=Fault.Severity(severity).label,
            who=member,
            day=long_day(fault.machine.today()),
            reason=reason.strip(),
        )
        fault.text, fault.severity = f"{fault.text}\n{said}", severity
        fault.save(update_fields=["text", "severity"])
    return fault


@dataclass(frozen=True)
class Standing:
    """A fault that stands open, the gravest of those alike, with the others of the last year."""

    fault: Fault
    others: tuple[Fault, ...]

    @property
    def times(self) -> int:
        """How often it was reported."""
        return 1 + len(self.others)

    @property
    def came_back(self) -> bool:
        """Whether one like it had been put right before."""
        return any(each.fixed_at for each in self.others)


@dataclass(frozen=True)
class MachineFaults:
    """A machine and what stands open on it, the gravest first."""

    machine: Machine
    standing: tuple[Standing, ...]


def open_by_machine(*, machine: Machine | None = None, now: datetime | None = None) -> list[MachineFaults]:
    """Return the open faults by machine, those alike together (`repeated_faults`); gravest first.

    Needs the organisation's scope; asks two queries, however many faults there are.
    """
    now = now or timezone.now()
    faults = Fault.objects.select_related("reported_by__user", "line__order")
    if machine:
        faults = faults.filter(machine=machine)
    open_ones = list(faults.open().filter(machine__retired_on=None).select_related("machine__type"))
    machines = {each.machine_id: each.machine for each in open_ones}
    fixed = faults.filter(machine__in=machines, fixed_at__gte=now - LOOK_BACK)
    of: dict[int, list[Fault]] = {pk: [] for pk in machines}
    for each in sorted([*open_ones, *fixed], key=lambda each: each.reported_at, reverse=True):
        of[each.machine_id].append(each)
    found = [MachineFaults(machines[pk], tuple(_together(each))) for pk, each in of.items()]
    return sorted(found, key=lambda faults: (-_gravity(faults.standing[0].fault), faults.machine.tag))


def _together(faults: Sequence[Fault]) -> list[Standing]:
    """The open faults of one machine, latest first, with those alike gathered under the gravest open one."""
    found = []
    for places in gather([each.text for each in faults]):
        alike = [faults[place] for place in places]
        standing = max((each for each in alike if not each.fixed_at), key=_gravity, default=None)
        if standing:
            found.append(Standing(standing, tuple(each for each in alike if each is not standing)))
    return sorted(found, key=lambda each: _gravity(each.fault), reverse=True)


def _gravity(fault: Fault) -> int:
    return GRAVEST_LAST.index(Fault.Severity(fault.severity))
