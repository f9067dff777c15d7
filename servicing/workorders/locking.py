"""Taking hold of an order: who may, whether it is still what it was, what its machine may do meanwhile."""

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.calendar.commitments import Kind, Promise, promises
from fleet.calendar.commitments import hold as hold_machine
from fleet.core.errors import FleetError
from fleet.models import Machine
from fleet.usage.figures import day_and_month
from servicing.models import Task, Technician, WorkOrder
from servicing.workorders.errors import OrderMoved, OrderNotReadyFor

State = WorkOrder.State
PLAN = _("plan or change work orders")
WORK = _("work on orders")
"""What a role does, or does not: for `require`."""


def locked(order: WorkOrder) -> WorkOrder:
    """Lock the order and its machine; return it as it is now."""
    machine = hold_machine(order.machine)
    order = (
        WorkOrder.objects.select_for_update(of=("self",))
        .select_related("technician__member__user", "closed_by__user")
        .get(pk=order.pk)
    )
    order.machine = machine
    return order


def take_up(order: WorkOrder, revision: int, *states: str) -> WorkOrder:
    """Lock the order and its machine; return it as it is now. Raises OrderMoved, OrderNotReadyFor."""
    order = locked(order)
    if order.revision != revision:
        said = gettext("{order} has changed since you opened it: {state}")
        raise OrderMoved(said.format(order=order, state=_says(order)), revision=order.revision)
    if order.state not in states:
        said = gettext("This can't be done now: {state}")
        raise OrderNotReadyFor(said.format(state=_says(order)), revision=order.revision)
    return order


def in_the_way_of_work(machine: Machine, day: date | None) -> list[Promise]:
    """Return whose booking or hire takes that day of a machine; nothing where no day is planned.

    A tag-out is no obstacle: it is what the work may be for. Two orders may share a day.
    """
    if day is None:
        return []
    return promises(machine, first=day, last=day, kinds=(Kind.HIRED, Kind.BOOKED))


def in_its_way(order: WorkOrder, now: datetime) -> list[Promise]:
    """Return whose booking or hire takes the day of an open order: today, or the later one it is planned for.

    They don't keep anybody from starting it, but whoever does should know.
    """
    if not order.is_open:
        return []
    today = order.machine.today(now)
    return in_the_way_of_work(order.machine, max(order.planned_for or today, today))


def move(order: WorkOrder, **changes: object) -> WorkOrder:
    """Save the changes of an order that `take_up` has locked, under the next revision."""
    for name, value in changes.items():
        setattr(order, name, value)
    order.revision += 1
    order.save(update_fields=[*changes, "revision"])
    return order


def free(machine: Machine) -> None:
    """Let the machine out of the shop unless another of its orders is under way."""
    under_way = machine.orders.filter(state__in=(State.STARTED, State.ON_HOLD)).exclude(started_at=None)
    if machine.in_shop_since and not under_way.exists():
        machine.in_shop_since = None
        machine.save(update_fields=["in_shop_since"])


def check_licence(
    tasks: Sequence[Task], technician: Technician | None, *, must_be_named: bool = False
) -> None:
    """Raise FleetError on `technician` where a task needs a licence that they don't have.

    With `must_be_named` nobody won't do either.
    """
    licensed = next((task for task in tasks if task.skill == Task.Skill.LICENSED), None)
    if licensed is None or (technician is None and not must_be_named) or (technician and technician.licensed):
        return
    said = gettext("“{task}” is licensed work, and no one on the order is licensed.")
    if technician:
        said = gettext("“{task}” is licensed work, and {technician} isn't licensed.")
    said = said.format(task=licensed.title, technician=technician)
    instead = gettext("Assign a licensed technician, or leave the task out and have the dealer do it.")
    raise FleetError(f"{said} {instead}", field="technician")


def _says(order: WorkOrder) -> str:
    """Return a sentence on where the order stands and, where known, by whom."""
    match order.state:
        case State.CLOSED:
            assert order.closed_at is not None
            at = order.closed_at.astimezone(order.machine.zoneinfo)
            said = gettext("{who} closed it on {day} at {time}.")
            return said.format(who=order.closed_by, day=day_and_month(at), time=f"{at:%H:%M}")
        case State.CANCELLED:
            return gettext("it was cancelled ({reason}).").format(reason=order.cancel_reason)
        case State.ON_HOLD:
            return gettext("it is on hold ({reason}).").format(reason=order.hold_reason)
        case State.STARTED:
            who = order.technician or gettext("no technician named")
            return gettext("it is started, with {technician}.").format(technician=who)
    who = order.technician or gettext("no technician yet")
    return gettext("it is planned, for {technician}.").format(technician=who)
