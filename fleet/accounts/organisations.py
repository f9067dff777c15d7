"""An organisation begins: with a yard, and with an owner who lets the others in."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.core.errors import FleetError
from fleet.models import Member, Organisation, User, Yard

FIRST_YARD = "Yard"
"""What the first yard is called where nobody gave it a name."""


@transaction.atomic
def start(*, organisation: Organisation, owner_mail: str, owner_name: str, yard_name: str) -> Member:
    """Store a new organisation with its first yard; return its owner, who has no password yet.

    Raises FleetError for a wrong or taken slug, zone or mail address.
    """
    mail = owner_mail.strip().lower()
    user = User(username=mail, email=mail, first_name=owner_name.strip())
    user.set_unusable_password()
    try:
        organisation.full_clean()
        user.full_clean()
    except ValidationError as error:
        raise FleetError("; ".join(error.messages)) from None
    if User.objects.filter(Q(username__iexact=mail) | Q(email__iexact=mail)).exists():
        said = _("{address} has an account here already. Use another address.")
        raise FleetError(said.format(address=mail))
    organisation.save()
    user.save()
    with scope(organisation=organisation):
        Yard.objects.create(organisation=organisation, name=yard_name)
        return Member.objects.create(organisation=organisation, user=user, role=Member.Role.OWNER)
