"""Safety checks that failed and haven't passed since."""

from fleet.models import Machine
from servicing.models import CheckResult


def failing(machine: Machine) -> list[CheckResult]:
    """Return, for each safety check of a machine whose latest result failed, that result; newest first."""
    results = (
        CheckResult.objects.filter(line__order__machine=machine, safety=True)
        .select_related("line__order", "check_made__task")
        .order_by("recorded_at", "pk")
    )
    latest = {(r.check_made.task.code, r.check_made.code): r for r in results}
    return sorted(
        (r for r in latest.values() if r.passes is False), key=lambda r: (r.recorded_at, r.pk), reverse=True
    )
