"""What stands inside a sentence and is said there in other words than by itself."""

from django import template
from django.utils.translation import gettext as _
from django.utils.translation import pgettext, pgettext_lazy

from fleet.models import ApiToken, Member

register = template.Library()

ROLES = {
    Member.Role.OWNER: pgettext_lazy("has invited you as", "owner"),
    Member.Role.MANAGER: pgettext_lazy("has invited you as", "manager"),
    Member.Role.TECHNICIAN: pgettext_lazy("has invited you as", "technician"),
    Member.Role.COUNTER: pgettext_lazy("has invited you as", "hire desk"),
}


@register.filter
def role_named(role: str) -> str:
    """Return a role as it stands in the middle of a sentence: `hire desk`."""
    return str(ROLES[Member.Role(role)])


@register.filter
def reach(token: ApiToken) -> str:
    """Return what a limited token may send for: `T-1, machines in North yard`."""
    machines = [str(machine) for machine in token.machines.all()]
    yards = [_("machines in {yard}").format(yard=yard) for yard in token.yards.all()]
    return ", ".join(machines + yards) or pgettext("what a token reaches", "nothing any more")
