"""People tie units to machines, set them aside, or take that back.

What they decide holds for the numbers the unit has then: it is asked again only when it comes with others.
"""

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.permission import require, require_own
from fleet.models import Machine, Member, TelematicsSource, TelematicsUnit
from fleet.telematics import send_readings
from fleet.telematics.questions import numbers_of

BY_PERSON = TelematicsUnit.MatchedBy.PERSON


def tie(*, unit: TelematicsUnit, machine: Machine, member: Member) -> TelematicsUnit:
    """Tie a unit to a machine; the hours it last sent go through the door at once.

    Readings it brought to another machine stay there, to be discarded by a person if they are wrong.
    Raises NotAllowed; FleetError on `machine`.
    """
    require_own(member, machine)
    if machine.is_attachment:
        raise FleetError(
            _("An attachment has no meter. Choose the machine it is mounted on."), field="machine"
        )
    if machine.retired_on:
        raise FleetError(_("That machine is retired. Choose another."), field="machine")
    with transaction.atomic():
        unit = _locked(unit, member)
        other = unit.source.units.filter(machine=machine).exclude(pk=unit.pk).first()
        if other is not None:
            said = _("{machine} is linked to {unit} of this source already. Unlink that first.")
            raise FleetError(said.format(machine=machine, unit=other), field="machine")
        unit.machine, unit.matched_by, unit.ignored, unit.hint = machine, BY_PERSON, False, ""
        unit.proposed, unit.known = None, numbers_of(unit).told()
        decided_at = unit.tied_at = _decided(unit, member)
        if unit.hours:
            unit.receipt = ""
            send_readings.send(source=unit.source, units=[unit], in_service={machine.pk}, now=decided_at)
        unit.save()
    return unit


def ignore(*, unit: TelematicsUnit, member: Member) -> TelematicsUnit:
    """Set a unit aside: its hours go nowhere, and there is nothing to decide. Raises NotAllowed."""
    with transaction.atomic():
        unit = _locked(unit, member)
        unit.machine, unit.matched_by, unit.ignored = None, "", True
        unit.known = numbers_of(unit).told()
        return _loosened(unit, member)


def loosen(*, unit: TelematicsUnit, member: Member) -> TelematicsUnit:
    """Let a unit wait again; the next snapshot ties it where its numbers fit. Raises NotAllowed."""
    with transaction.atomic():
        unit = _locked(unit, member)
        unit.machine, unit.matched_by, unit.ignored = None, "", False
        unit.known = {}
        return _loosened(unit, member)


def _locked(unit: TelematicsUnit, member: Member) -> TelematicsUnit:
    """The unit as it stands, while no snapshot of its source is being applied."""
    require(member, "manage_fleet", _("manage telematics"), unit)
    TelematicsSource.objects.select_for_update().get(pk=unit.source_id)
    return TelematicsUnit.objects.select_related("source__organisation").get(pk=unit.pk)


def _loosened(unit: TelematicsUnit, member: Member) -> TelematicsUnit:
    unit.receipt = unit.receipt_reason = unit.hint = ""
    unit.proposed = unit.tied_at = None
    _decided(unit, member)
    unit.save()
    return unit


def _decided(unit: TelematicsUnit, member: Member) -> datetime:
    unit.decided_by, unit.decided_at = member, (now := timezone.now())
    return now
