"""Holidays of the yards: days on which nothing runs."""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Holiday, Machine, Member, Yard
from fleet.readings.propagation import expect_differently

LONGEST = 366  # days


def add(*, name: str, first_on: date, last_on: date | None, yard: Yard | None, member: Member) -> Holiday:
    """Enter a holiday; the machines it concerns are projected again.

    last_on: None for a single day. yard: None for all yards. Raises NotAllowed; FleetError on `name`,
    `last_on` or `yard`.
    """
    return _save(
        Holiday(organisation_id=member.organisation_id), name, first_on, last_on or first_on, yard, member
    )


def change(
    *, holiday: Holiday, name: str, first_on: date, last_on: date | None, yard: Yard | None, member: Member
) -> Holiday:
    """Change a holiday. Raises as `add` does."""
    return _save(holiday, name, first_on, last_on or first_on, yard, member)


def remove(*, holiday: Holiday, member: Member) -> None:
    """Remove a holiday. Raises NotAllowed."""
    require(member, "manage_fleet", _("change this organisation's holidays"), holiday)
    with scope(organisation=member.organisation), transaction.atomic():
        yards = {holiday.yard_id}
        holiday.delete()
        _tell(yards)


def _save(
    holiday: Holiday, name: str, first_on: date, last_on: date, yard: Yard | None, member: Member
) -> Holiday:
    require(member, "manage_fleet", _("change this organisation's holidays"), holiday)
    if not name.strip():
        raise FleetError(_("Give the holiday a name."), field="name")
    if last_on < first_on:
        raise FleetError(_("Choose a last day on or after the first."), field="last_on")
    if (last_on - first_on).days >= LONGEST:
        raise FleetError(_("A holiday lasts a year at most. Choose an earlier last day."), field="last_on")
    if yard is not None and yard.organisation_id != member.organisation_id:
        raise FleetError(_("Choose one of your yards."), field="yard")
    with scope(organisation=member.organisation), transaction.atomic():
        here = yard.pk if yard else None
        yards = {here, holiday.yard_id} if holiday.pk else {here}
        holiday.name, holiday.yard = name.strip(), yard
        holiday.first_on, holiday.last_on = first_on, last_on
        holiday.save()
        _tell(yards)
    return holiday


def _tell(yards: Iterable[int | None]) -> None:
    """Have the machines of these yards projected again; None among them: of all yards."""
    machines = Machine.objects.in_service()
    if None not in (among := set(yards)):
        machines = machines.filter(yard__in=among)
    expect_differently(list(machines.values_list("pk", flat=True)))
