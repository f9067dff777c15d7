"""Whether anything can be said of what is due: without a machine or a program, "nothing" would be a guess."""

from typing import Literal

from fleet.models import Machine
from servicing.models import Duty

Missing = Literal["", "machine", "program"]


def missing() -> Missing:
    """Return what is missing before anything can fall due, "" when nothing is. Needs the scope.

    A machine counts while it is in service, a program once one of its tasks stands on such a machine.
    """
    if Duty.objects.live().exists():
        return ""
    return "program" if Machine.objects.in_service().exists() else "machine"
