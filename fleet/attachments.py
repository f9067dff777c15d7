"""Attachments are mounted on machines and taken off; between the two they run the machine's hours."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from fleet.errors import FleetError, NotAllowed, WrongState
from fleet.models import Attachment, Machine, Member, Mounting, Reading
from fleet.submitted import HUNDREDTH


def mount(*, attachment: Attachment, machine: Machine, at: datetime, member: Member) -> Mounting:
    """Hang an attachment on a machine from the moment `at` on.

    Raises NotAllowed for a machine or attachment of others; WrongState when it is mounted already; FleetError
    on `at` for a moment to come, or before it was last taken off.
    """
    _own(member, attachment, machine)
    _past(at)
    with transaction.atomic():
        _lock(attachment)
        last = attachment.mountings.select_related("machine").order_by("-mounted_at", "-pk").first()
        if last is not None and last.removed_at is None:
            raise WrongState(f"{attachment} is on {last.machine}; take it off there first.", field="machine")
        if last is not None and at < last.removed_at:
            raise FleetError(f"{attachment} was still on {last.machine} then.", field="at")
        return Mounting.objects.create(
            organisation_id=attachment.organisation_id,
            attachment=attachment,
            machine=machine,
            mounted_at=at,
            hours_on=hours_at(machine, at),
        )


def remove(*, attachment: Attachment, at: datetime, member: Member) -> Mounting:
    """Take an attachment off the machine it hangs on; return the ended mounting.

    Raises NotAllowed; WrongState when it hangs on none; FleetError on `at` for a moment to come or before it
    was mounted.
    """
    _own(member, attachment)
    _past(at)
    with transaction.atomic():
        _lock(attachment)
        mounting = attachment.mountings.open().select_related("machine").first()
        if mounting is None:
            raise WrongState(f"{attachment} is on no machine.")
        if at < mounting.mounted_at:
            raise FleetError(f"{attachment} was not yet on {mounting.machine} then.", field="at")
        mounting.removed_at = at
        mounting.hours_off = max(mounting.hours_on, hours_at(mounting.machine, at))
        mounting.save(update_fields=["removed_at", "hours_off"])
    return mounting


def hours_at(machine: Machine, at: datetime) -> Decimal:
    """Return the machine's total hours at a moment, on the straight line between the readings around it.

    Before its first counted reading that one's hours, after its last the last one's: nothing more is known.
    """
    counted = Reading.objects.counted().filter(machine=machine)
    before = counted.filter(taken_at__lte=at).order_by("-taken_at", "-pk").first()
    after = counted.filter(taken_at__gt=at).order_by("taken_at", "pk").first()
    known = before or after
    if known is None:
        return machine.hours
    if before is None or after is None:
        return known.hours
    share = Decimal((at - before.taken_at) / (after.taken_at - before.taken_at))
    return (before.hours + (after.hours - before.hours) * share).quantize(HUNDREDTH)


def _own(member: Member, *things: Attachment | Machine) -> None:
    if not member.active or any(thing.organisation_id != member.organisation_id for thing in things):
        raise NotAllowed("These are not your organisation's.")


def _past(at: datetime) -> None:
    if at > timezone.now():
        raise FleetError("That moment is still to come.", field="at")


def _lock(attachment: Attachment) -> None:
    Attachment.objects.select_for_update().get(pk=attachment.pk)
