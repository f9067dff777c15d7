"""Tokens for the API are made and ended."""

from fleet.errors import FleetError, NotAllowed
from fleet.models import ApiToken, Member


def issue(*, name: str, member: Member, device: bool = False) -> tuple[ApiToken, str]:
    """Make a token with the member's own rights, or one of a device, which may only send readings.

    Returns it with its secret, which can't be had again. Raises NotAllowed; FleetError on `name`.
    """
    if device and not member.rights.manage_fleet:
        raise NotAllowed("Your role does not make tokens for devices.")
    if not member.active:
        raise NotAllowed("You are switched off in this organisation.")
    name = name.strip()
    if not name:
        raise FleetError("Say what will use it, so that you know which one to end.", field="name")
    same = ApiToken.objects.live().filter(name=name, member=None if device else member)
    if same.exists():
        raise FleetError(
            "A token of this name is in use; choose another name, or end that one.", field="name"
        )
    return ApiToken.issue(name=name, created_by=member, member=None if device else member)


def revoke(*, token: ApiToken, member: Member) -> None:
    """End a token at once. Raises NotAllowed for another person's, or for a device's without the right."""
    mine = token.member_id == member.pk or (token.is_device and member.rights.manage_fleet)
    if token.organisation_id != member.organisation_id or not mine:
        raise NotAllowed("This token is not yours to end.")
    token.revoke()
