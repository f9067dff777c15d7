"""What every page needs to know about the one who is looking."""

from fleet.accounts.middleware import IdentifiedRequest
from fleet.models import Reading


def member(request: IdentifiedRequest) -> dict[str, object]:
    """Give templates the member, the organisation, the rights and how many readings wait for a decision."""
    current = getattr(request, "member", None)
    if current is None:
        return {"member": None}
    held = Reading.objects.held().count() if request.may.decide_readings and request.organisation else 0
    return {
        "member": current,
        "organisation": request.organisation,
        "may": request.may,
        "held_count": held,
    }
