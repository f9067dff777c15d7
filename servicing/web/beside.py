"""One machine in short, beside a list that has the room for it."""

from dataclasses import dataclass

from django.shortcuts import get_object_or_404

from fleet.core.number_reader import read_whole
from fleet.models import Hire, Machine, Member, TagOut
from servicing.models import Duty, Fault, WorkOrder

MOST = 4  # tasks that are shown


@dataclass(frozen=True)
class Beside:
    """What is shown of the machine: what stops it, who has it, what falls due next and what is being done."""

    machine: Machine
    duties: list[Duty]
    later: int
    orders: list[WorkOrder]
    faults: list[Fault]
    tag_outs: list[TagOut]
    hire: Hire | None


def beside(asked: str, member: Member, *, usual: int | None) -> Beside | None:
    """Return the machine that was asked for by its number, else the usual one; None where there is neither.

    Raises Http404 where no machine that the member may see has that number.
    """
    if not asked and usual is None:
        return None
    machines = Machine.objects.visible_to(member).with_state().with_host()
    machine = get_object_or_404(
        machines.select_related("type", "yard__organisation"), pk=read_whole(asked) if asked else usual
    )
    duties = list(Duty.objects.live().filter(machine=machine).with_everything().soonest_first())
    day = machine.today()
    for duty in duties:
        duty.overdue = duty.is_overdue(day)
    return Beside(
        machine=machine,
        duties=duties[:MOST],
        later=len(duties[MOST:]),
        orders=list(WorkOrder.objects.open().filter(machine=machine).with_everything().with_refused()),
        faults=list(Fault.objects.open().filter(machine=machine).select_related("reported_by__user")),
        tag_outs=list(TagOut.objects.open().filter(machine=machine).select_related("placed_by__user")),
        hire=Hire.objects.open().with_people().filter(machine=machine).first(),
    )
