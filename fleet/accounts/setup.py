"""A new organisation's first steps: which of them it doesn't need, and when its list of them is closed."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Member, Organisation, SetupStep

RIGHTS = {SetupStep.Code.PEOPLE: "manage_people"}


def right_for(step: str) -> str:
    """Return the right that a step needs, a field of Rights."""
    return RIGHTS.get(SetupStep.Code(step), "manage_fleet")


@transaction.atomic
def wave_off(*, step: str, member: Member) -> SetupStep:
    """Note that a step isn't needed in the member's organisation; who said so first stays.

    Raises NotAllowed; FleetError on `step` when there is no such one.
    """
    _require(step, member)
    noted, _made = SetupStep.objects.get_or_create(
        organisation_id=member.organisation_id, step=step, defaults={"waved_off_by": member}
    )
    return noted


def take_up(*, step: str, member: Member) -> None:
    """Let a step that was waved off be led to again. Raises as `wave_off` does."""
    _require(step, member)
    SetupStep.objects.filter(organisation_id=member.organisation_id, step=step).delete()


def close(*, member: Member) -> bool:
    """Close the organisation's list of first steps, whatever is open; return whether it was open.

    Raises NotAllowed.
    """
    require(member, "manage_fleet", _("close the list of first steps"))
    own = Organisation.objects.filter(pk=member.organisation_id, set_up_at=None)
    return bool(own.update(set_up_at=timezone.now()))


def reopen(*, member: Member) -> None:
    """Show the list again; what was waved off stays so. Raises NotAllowed."""
    require(member, "manage_fleet", _("show the list of first steps"))
    Organisation.objects.filter(pk=member.organisation_id).update(set_up_at=None)


def _require(step: str, member: Member) -> None:
    if step not in SetupStep.Code.values:
        raise FleetError(_("There is no such step."), field="step")
    require(member, right_for(step), _("decide about this step"))
