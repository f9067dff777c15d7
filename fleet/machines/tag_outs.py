"""A machine is taken out of use, and given back to use by a named person."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.calendar import asks
from fleet.calendar.commitments import Kind, promises
from fleet.core.errors import FleetError, WrongState
from fleet.core.permission import require, require_own
from fleet.models import Ask, Machine, Member, TagOut
from fleet.readings.propagation import expect_differently


def place(*, machine: Machine, reason: str, member: Member) -> TagOut:
    """Tag a machine out. Any member may: whoever sees the danger.

    Raises NotAllowed for others' machines; FleetError on `reason` when none is given.
    """
    require_own(member, machine)
    if not reason.strip():
        raise FleetError(_("Say what is wrong with it."), field="reason")
    with transaction.atomic():
        placed = TagOut.objects.create(
            organisation_id=machine.organisation_id, machine=machine, reason=reason.strip(), placed_by=member
        )
        expect_differently([machine.pk])
    return placed


def clear(*, tag_out: TagOut, reason: str, member: Member) -> TagOut:
    """Clear a tag-out in the member's name.

    Raises NotAllowed without the right clear_tag_outs; FleetError on `reason` when none is given; WrongState
    when somebody has cleared it already.
    """
    require(member, "clear_tag_outs", _("clear tag-outs"), tag_out)
    if not reason.strip():
        raise FleetError(_("Say why it is safe to use again."), field="reason")
    with transaction.atomic():
        cleared = TagOut.objects.filter(pk=tag_out.pk, cleared_at=None).update(
            cleared_by=member, cleared_at=timezone.now(), clear_reason=reason.strip()
        )
        if cleared:
            expect_differently([tag_out.machine_id])
            _done_with(tag_out, reason, member)
    tag_out.refresh_from_db()
    if not cleared:
        said = _("{person} has cleared this tag-out already.")
        raise WrongState(said.format(person=tag_out.cleared_by))
    return tag_out


def ask_to_clear(*, machine: Machine, member: Member, note: str = "") -> Ask:
    """Ask those who clear tag-outs to look at a machine that is tagged out, or that carries what is.

    Raises WrongState when nothing of it is; see `asks.ask` for the rest.
    """
    today = machine.today()
    standing = promises(machine, first=today, last=today, kinds=[Kind.TAGGED_OUT])
    if not standing:
        raise WrongState(_("{machine} is not tagged out any more.").format(machine=machine))
    against = [each.sentence for each in standing]
    return asks.ask(machine=machine, matter=asks.Matter.CLEAR, member=member, against=against, note=note)


def _done_with(tag_out: TagOut, reason: str, member: Member) -> None:
    """End the asks for clearing that this was the last tag-out of: the machine's, and its host's."""
    cleared = tag_out.machine
    hosts = Machine.objects.filter(carried__attachment=cleared.pk, carried__removed_at=None)
    for machine in (cleared, *hosts.select_related("yard__organisation")):
        today = machine.today()
        if not promises(machine, first=today, last=today, kinds=[Kind.TAGGED_OUT]):
            outcome = _("Cleared: {reason}").format(reason=reason.strip())
            asks.done(machine=machine, matter=asks.Matter.CLEAR, member=member, outcome=outcome)
