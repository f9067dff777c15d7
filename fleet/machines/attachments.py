"""Attachments are mounted on machines and taken off; between the two they run the machine's hours."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.core.errors import FleetError, WrongState
from fleet.core.permission import require_own
from fleet.models import Attachment, Machine, Member, Mounting
from fleet.readings.propagation import hours_moved


def mount(*, attachment: Attachment, machine: Machine, at: datetime, member: Member) -> Mounting:
    """Hang an attachment on a machine from the moment `at` on.

    Raises NotAllowed for a machine or attachment of others; WrongState when it is mounted already, or one of
    the two is retired; FleetError on `machine` for an attachment, and on `at` for a moment to come or before
    it was last taken off.
    """
    require_own(member, attachment, machine)
    _past(at)
    with scope(organisation=member.organisation), transaction.atomic():
        host = Machine.objects.select_related("type").select_for_update(of=("self",)).get(pk=machine.pk)
        attachment = _lock(attachment)
        if host.is_attachment:
            said = _("{machine} is an attachment itself; choose a machine.")
            raise FleetError(said.format(machine=host), field="machine")
        if retired := next((each for each in (host, attachment) if each.retired_on), None):
            raise WrongState(_("{machine} is retired.").format(machine=retired), field="machine")
        last = attachment.mountings.select_related("machine").order_by("-mounted_at", "-pk").first()
        if last is not None and last.removed_at is None:
            said = _("{attachment} is on {machine}. Remove it there first.")
            raise WrongState(said.format(attachment=attachment, machine=last.machine), field="machine")
        if last is not None and last.removed_at is not None and at < last.removed_at:
            said = _("{attachment} was still mounted on {machine} at that time. Give a later one.")
            raise FleetError(said.format(attachment=attachment, machine=last.machine), field="at")
        mounting = Mounting.objects.create(
            organisation_id=attachment.organisation_id,
            attachment=attachment,
            machine=host,
            mounted_at=at,
            hours_on=host.hours,
        )
        return _with_hours(mounting)


def remove(*, attachment: Attachment, at: datetime, member: Member) -> Mounting:
    """Take an attachment off the machine it hangs on; return the ended mounting.

    Raises NotAllowed; WrongState when it hangs on none; FleetError on `at` for a moment to come or before it
    was mounted.
    """
    require_own(member, attachment)
    _past(at)
    with scope(organisation=member.organisation), transaction.atomic():
        hosts = Mounting.objects.open().filter(attachment=attachment).values("machine")
        list(Machine.objects.select_for_update().filter(pk__in=hosts))
        attachment = _lock(attachment)
        mounting = attachment.mountings.open().select_related("machine").first()
        if mounting is None:
            said = _("{attachment} is not mounted on a machine.")
            raise WrongState(said.format(attachment=attachment))
        if at < mounting.mounted_at:
            said = _("{attachment} was not mounted on {machine} yet at that time. Give a later one.")
            raise FleetError(said.format(attachment=attachment, machine=mounting.machine), field="at")
        mounting.removed_at, mounting.hours_off = at, mounting.hours_on
        mounting.save(update_fields=["removed_at", "hours_off"])
        return _with_hours(mounting)


def _with_hours(mounting: Mounting) -> Mounting:
    """Let the attachment's hours follow; return the mounting with its host's hours at either end."""
    hours_moved({mounting.attachment_id: mounting.attachment}, now=timezone.now())
    mounting.refresh_from_db(fields=["hours_on", "hours_off"])
    return mounting


def _past(at: datetime) -> None:
    if at > timezone.now():
        raise FleetError(_("That time is in the future. Give an earlier one."), field="at")


def _lock(attachment: Attachment) -> Attachment:
    """The attachment as it is now, locked; its host must be locked before it."""
    return Attachment.objects.select_for_update(of=("self", "machine_ptr")).get(pk=attachment.pk)
