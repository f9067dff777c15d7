"""Yards, and what holds for the whole organisation."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Member, Organisation, Yard
from fleet.models.organisation import check_zone


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What an organisation chooses. currency: ISO 4217 code. digest_hour: 0 to 23, in `zone`."""

    name: str
    currency: str
    zone: str
    units: str
    date_order: str
    digest_hour: int
    notice_days: int
    hire_margin_days: int


def add(*, name: str, zone: str, member: Member) -> Yard:
    """Enter a yard. zone: an IANA name; '' for the organisation's. Raises NotAllowed; FleetError."""
    return _save(Yard(organisation_id=member.organisation_id), name, zone, member)


def change(*, yard: Yard, name: str, zone: str, member: Member) -> Yard:
    """Rename a yard or move it to another time zone. Raises NotAllowed; FleetError on `name` or `zone`."""
    return _save(yard, name, zone, member)


def save_settings(*, settings: Settings, member: Member) -> Organisation:
    """Change what holds for the member's organisation. Raises NotAllowed; FleetError on a wrong setting."""
    require(member, "manage_people", _("change these settings"))
    with transaction.atomic():
        organisation = Organisation.objects.select_for_update().get(pk=member.organisation_id)
        for name in Settings.__dataclass_fields__:
            setattr(organisation, name, getattr(settings, name))
        try:
            organisation.clean_fields()
        except ValidationError as error:
            field, sentences = next(iter(error.message_dict.items()))
            raise FleetError(sentences[0], field=field) from None
        if organisation.digest_hour > 23:
            raise FleetError(_("Choose an hour from 0 to 23."), field="digest_hour")
        organisation.save()
    return organisation


def _save(yard: Yard, name: str, zone: str, member: Member) -> Yard:
    require(member, "manage_fleet", _("change this organisation's yards"), yard)
    yard.name, yard.zone = name.strip(), zone
    if not yard.name:
        raise FleetError(_("Give the yard a name."), field="name")
    if zone:
        try:
            check_zone(zone)
        except ValidationError as error:
            raise FleetError(str(error.message), field="zone") from None
    said = _("Another yard is called {name}. Choose another name.")
    taken = FleetError(said.format(name=yard.name), field="name")
    if Yard.objects.exclude(pk=yard.pk).filter(name__iexact=yard.name).exists():
        raise taken
    try:
        with transaction.atomic():
            yard.save()
    except IntegrityError:
        raise taken from None
    return yard
