"""The one place that refuses people: a role without the right, or rows of another organisation."""

from typing import Protocol

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from fleet.core.errors import NotAllowed
from fleet.core.roles import Rights


class Owned(Protocol):
    """A row of an organisation."""

    organisation_id: int


class Asking(Protocol):
    """The member who wants something done."""

    active: bool
    organisation_id: int

    @property
    def rights(self) -> Rights:
        """What the member may do; nothing once switched off."""


def require(member: Asking, right: str, to: str | Promise, *rows: Owned) -> None:
    """Raise NotAllowed unless the member holds the right and the rows are of the member's organisation.

    right: a field of Rights. to: what it is for, translated, as in "Your role can't change meters."
    """
    if not getattr(member.rights, right):
        raise NotAllowed(_("Your role can't {to}.").format(to=to))
    require_own(member, *rows)


def require_own(member: Asking, *rows: Owned) -> None:
    """Raise NotAllowed unless the member is in the organisation still, and the rows are of it."""
    if not member.active:
        raise NotAllowed(_("Your access to this organisation is switched off. Ask an owner."))
    if any(row.organisation_id != member.organisation_id for row in rows):
        raise NotAllowed(_("This belongs to another organisation."))
