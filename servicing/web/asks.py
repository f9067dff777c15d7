"""What is asked of those who decide, and what came of the asks of one's own; a section of Today."""

from collections.abc import Sequence

from django.utils import timezone

from fleet.calendar import asks
from fleet.models import Ask, Member


def asks_on_today(member: Member) -> Sequence[Ask]:
    """Return the asks this member may deal with, and the own ones that stand or were dealt with lately."""
    own = Ask.objects.filter(asked_by=member).standing_or_answered_lately(timezone.now())
    found = (asks.to_deal_with(member) | own).select_related(
        "machine__type", "asked_by__user", "dealt_by__user"
    )
    return list(found)
