"""A machine is taken out of use, and given back to use by a named person."""

from django.db import transaction
from django.utils import timezone

from fleet.errors import FleetError, NotAllowed, WrongState
from fleet.models import Machine, Member, TagOut
from fleet.moved import expect_differently


def place(*, machine: Machine, reason: str, member: Member) -> TagOut:
    """Tag a machine out. Any member may: whoever sees the danger.

    Raises NotAllowed for others' machines; FleetError on `reason` when none is given.
    """
    if not member.active or member.organisation_id != machine.organisation_id:
        raise NotAllowed("This is not your organisation's machine.")
    if not reason.strip():
        raise FleetError("Say what is wrong with it.", field="reason")
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
    if member.organisation_id != tag_out.organisation_id or not member.rights.clear_tag_outs:
        raise NotAllowed("Your role does not clear tag-outs.")
    if not reason.strip():
        raise FleetError("Say why it is safe to use again.", field="reason")
    with transaction.atomic():
        cleared = TagOut.objects.filter(pk=tag_out.pk, cleared_at=None).update(
            cleared_by=member, cleared_at=timezone.now(), clear_reason=reason.strip()
        )
        if cleared:
            expect_differently([tag_out.machine_id])
    tag_out.refresh_from_db()
    if not cleared:
        raise WrongState(f"{tag_out.cleared_by} has cleared this tag-out already.")
    return tag_out
