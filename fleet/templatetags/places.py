"""Where something is, for programs that show a map."""

from django import template

from fleet.models import TelematicsUnit

register = template.Library()


@register.filter
def geo(unit: TelematicsUnit) -> str:
    """Return a unit's place as a link (RFC 5870), which has a point in every language."""
    return "geo:" + ",".join(f"{degrees.normalize():f}" for degrees in (unit.latitude, unit.longitude))
