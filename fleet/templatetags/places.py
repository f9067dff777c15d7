"""Where something is, for programs that show a map."""

from decimal import Decimal
from typing import cast

from django import template

from fleet.models import TelematicsUnit

register = template.Library()


@register.filter
def geo(unit: TelematicsUnit) -> str:
    """Return where a unit was seen as a link (RFC 5870), which has a point in every language."""
    place = cast("tuple[Decimal, Decimal]", (unit.latitude, unit.longitude))
    return "geo:" + ",".join(f"{degrees.normalize():f}" for degrees in place)
