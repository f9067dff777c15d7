"""What every page needs to know about the one who is looking."""

from fleet.accounts.middleware import IdentifiedRequest
from fleet.models import Reading
from fleet.usage import figures
from fleet.web import look


def member(request: IdentifiedRequest) -> dict[str, object]:
    """Give templates the member, the rights, and how many readings wait for a decision.

    For everybody: light or dark, and the decimal mark.
    """
    current = getattr(request, "member", None)
    shown = {
        "look": look.chosen(request),
        "looks": look.WORDS,
        "decimal_mark": figures.writing().decimal_mark,
    }
    if current is None:
        return {"member": None, **shown}
    held = Reading.objects.held().count() if request.may.decide_readings and request.organisation else 0
    return {
        "member": current,
        "organisation": request.organisation,
        "may": request.may,
        "held_count": held,
        **shown,
    }
