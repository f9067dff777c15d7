"""Who does service work, at which rate, and with which licence."""

from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Member
from servicing.models import Technician


def keep_up(member: Member) -> None:
    """Give a member who does service work a row to be assigned by; called whenever a membership changes."""
    if member.role == Member.Role.TECHNICIAN:
        Technician.objects.get_or_create(organisation=member.organisation, member=member)


@transaction.atomic
def change(*, technician: Technician, hourly_rate: Decimal, licensed: bool, member: Member) -> Technician:
    """Set what an hour of the technician costs, and whether licensed work may be given to them.

    Orders already closed keep the rate of their day. Raises NotAllowed; FleetError on `hourly_rate`.
    """
    require(member, "plan_orders", _("plan work"), technician)
    if not hourly_rate.is_finite() or hourly_rate < 0:
        raise FleetError(_("Enter 0 or more."), field="hourly_rate")
    technician.hourly_rate, technician.licensed = hourly_rate, licensed
    technician.save(update_fields=["hourly_rate", "licensed"])
    return technician
