"""The life of an order from its plan to its end, but for what is entered on it."""

from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.calendar.commitments import overrule
from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Hire, Member
from fleet.readings.propagation import expect_differently
from servicing.measurements import retest
from servicing.models import CheckResult, Task, Technician, WorkOrder
from servicing.workorders.errors import OrderNotReadyFor
from servicing.workorders.locking import (
    PLAN,
    WORK,
    State,
    check_licence,
    free,
    in_the_way_of_work,
    move,
    take_up,
)


def assign(
    *,
    order: WorkOrder,
    member: Member,
    revision: int,
    technician: Technician | None,
    planned_for: date | None = None,
    override_reason: str = "",
) -> WorkOrder:
    """Give an open order to a technician, or to nobody, and to a day; another day is looked at as in `plan`.

    Raises as `plan` and `start` do.
    """
    require(member, "plan_orders", PLAN, order)
    with scope(organisation=member.organisation), transaction.atomic():
        order = take_up(order, revision, State.PLANNED, State.STARTED, State.ON_HOLD)
        check_licence(_tasks(order), technician)
        if planned_for != order.planned_for:
            conflicts = in_the_way_of_work(order.machine, planned_for)
            to = _("plan it for that day")
            order.keep(overrule(conflicts, to=to, member=member, reason=override_reason))
        expect_differently([order.machine_id])
        return move(order, technician=technician, planned_for=planned_for, overruled=order.overruled)


def start(*, order: WorkOrder, member: Member, revision: int, now: datetime | None = None) -> WorkOrder:
    """Begin a planned order; the machine is in the shop from now on.

    A technician who starts an order that nobody has takes it. Raises NotAllowed; OrderMoved; OrderNotReadyFor
    when it isn't planned or its machine is out on hire; FleetError when a task needs a licence that the
    technician doesn't have.
    """
    return _go_on(order, member, revision, State.PLANNED, now or timezone.now())


def resume(*, order: WorkOrder, member: Member, revision: int, now: datetime | None = None) -> WorkOrder:
    """Go on with an order that is on hold. Raises as `start` does."""
    return _go_on(order, member, revision, State.ON_HOLD, now or timezone.now())


def hold(*, order: WorkOrder, member: Member, revision: int, reason: str) -> WorkOrder:
    """Put an order on hold for parts or a person; the reason says for what. Raises as `start` does."""
    require(member, "work_orders", WORK, order)
    if not reason.strip():
        raise FleetError(_("Say what it is waiting for."), field="reason")
    with scope(organisation=member.organisation), transaction.atomic():
        order = take_up(order, revision, State.PLANNED, State.STARTED)
        return move(order, state=State.ON_HOLD, hold_reason=reason.strip())


def cancel(*, order: WorkOrder, member: Member, revision: int, reason: str) -> WorkOrder:
    """Cancel an open order; its duties can be planned again.

    A safety check recorded as failed stands, whatever becomes of the order: the machine stays tagged out. Any
    other check recorded as failed tags it out now where its task says so, as it would at closing.
    Raises as `start` does.
    """
    require(member, "plan_orders", PLAN, order)
    if not reason.strip():
        raise FleetError(_("Say why it is cancelled."), field="reason")
    with scope(organisation=member.organisation), transaction.atomic():
        order = take_up(order, revision, State.PLANNED, State.STARTED, State.ON_HOLD)
        retest.note(order=order, failed=_failed(order), member=member, now=timezone.now())
        order.lines.update(open=False)
        expect_differently([order.machine_id])
        move(order, state=State.CANCELLED, cancel_reason=reason.strip(), cancelled_at=timezone.now())
        free(order.machine)
    return order


def _go_on(order: WorkOrder, member: Member, revision: int, state: str, now: datetime) -> WorkOrder:
    require(member, "work_orders", WORK, order)
    with scope(organisation=member.organisation), transaction.atomic():
        order = take_up(order, revision, state)
        hire = Hire.objects.open().filter(machine=order.machine).first()
        if hire:
            said = _("{machine} is out on hire with {hirer}; check it in at the gate first.")
            raise OrderNotReadyFor(
                said.format(machine=order.machine, hirer=hire.hirer), revision=order.revision
            )
        technician = order.technician or Technician.objects.filter(member=member).first()
        check_licence(_tasks(order), technician, must_be_named=True)
        move(
            order,
            state=State.STARTED,
            technician=technician,
            started_at=order.started_at or now,
            hold_reason="",
        )
        if order.machine.in_shop_since is None:
            order.machine.in_shop_since = now
            order.machine.save(update_fields=["in_shop_since"])
        expect_differently([order.machine_id])
    return order


def _failed(order: WorkOrder) -> list[CheckResult]:
    """What is recorded on the order as failed, of the checks that keep a machine from use."""
    results = CheckResult.objects.filter(line__order=order).select_related(
        "line__order__machine", "line__duty__machine", "check_made__task__version"
    )
    return [result for result in results if result.passes is False and retest.is_grave(result.check_made)]


def _tasks(order: WorkOrder) -> list[Task]:
    return list(Task.objects.filter(lines__order=order))
