"""The member in whose name a command acts."""

from django.core.management.base import CommandError

from fleet.models import Member, Organisation


def acting_member(organisation: Organisation, mail: str | None) -> Member:
    """Return the active member with that mail address, the first owner where none is named.

    Needs the organisation's scope. Raises CommandError.
    """
    members = Member.objects.active().filter(organisation=organisation).order_by("pk")
    named = members.filter(user__email__iexact=mail) if mail else members.filter(role=Member.Role.OWNER)
    member = named.first()
    if member is None:
        raise CommandError(f"No active member has the address {mail}." if mail else "There is no owner.")
    return member
