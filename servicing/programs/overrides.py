"""A machine departs from its program: a task at another interval, or left out, with the reason."""

from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.models import Machine, Member
from fleet.readings.propagation import expect_differently
from servicing.models import ProgramVersion, Task, TaskOverride


@transaction.atomic
def depart(
    *,
    machine: Machine,
    task: Task,
    reason: str,
    member: Member,
    left_out: bool = False,
    every_hours: Decimal | None = None,
    every_months: int | None = None,
) -> TaskOverride:
    """Do a task of the machine's current program at another interval on this machine, or not at all.

    An earlier departure for the same task is replaced. It holds for the task's code in later versions too.
    Raises FleetError for a task of another program, without a reason, or without saying what.
    """
    if (
        not ProgramVersion.objects.current()
        .filter(pk=task.version_id, program__machine_type=machine.type_id)
        .exists()
    ):
        raise FleetError(_("This task is not in the machine's programme."), field="task")
    if not reason.strip():
        raise FleetError(_("Say why this machine deviates from the programme."), field="reason")
    if left_out and (every_hours or every_months):
        raise FleetError(
            _("A task that is left out has no interval: clear it, or choose “Another interval”.")
        )
    if not left_out and not every_hours and not every_months:
        raise FleetError(_("Enter hours, months or both."), field="every_hours")
    made = TaskOverride.objects.update_or_create(
        organisation=machine.organisation,
        machine=machine,
        program=task.version.program,
        task_code=task.code,
        defaults={
            "left_out": left_out,
            "every_hours": every_hours or None,
            "every_months": every_months or None,
            "reason": reason.strip(),
            "made_by": member,
            "made_at": timezone.now(),
        },
    )[0]
    expect_differently([machine.pk])
    return made


@transaction.atomic
def take_back(*, override: TaskOverride) -> None:
    """Follow the program again."""
    machine = override.machine_id
    override.delete()
    expect_differently([machine])
