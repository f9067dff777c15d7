"""Making an order."""

from collections.abc import Sequence
from datetime import date

from django.db import transaction
from django.db.models import Max, Q
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.calendar.commitments import hold, overrule
from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Attachment, Machine, Member, Organisation
from fleet.readings.propagation import expect_differently
from servicing.duties.applicability import rule_for
from servicing.job_sheet import order_of_work
from servicing.models import Duty, Fault, Line, Technician, WorkOrder
from servicing.workorders.locking import PLAN, check_licence, in_the_way_of_work


def plan(
    *,
    member: Member,
    machine: Machine,
    duties: Sequence[Duty] = (),
    faults: Sequence[Fault] = (),
    technician: Technician | None = None,
    planned_for: date | None = None,
    note: str = "",
    override_reason: str = "",
) -> WorkOrder:
    """Make an order of these duties and faults of one machine; its lines stand in the order of work.

    Duties and faults of the attachments that hang on it can go along; their lines are named after them.
    Each line keeps the marks its duty had. override_reason: why it is planned for a day on which the machine
    is booked or out on hire; kept with the order. Raises NotAllowed; Promised with all that is in the way of
    that day, where no reason is given; FleetError on `duties` or `faults` that are
    not this machine's or theirs, not live, or on an open order already (which is named), and on `technician`
    without the licence a task needs.
    """
    require(member, "plan_orders", PLAN, machine)
    if not duties and not faults:
        raise FleetError(_("Choose at least one task or fault."), field="duties")
    with scope(organisation=member.organisation), transaction.atomic():
        # The machine first, as at the gate: no day is promised twice.
        machine = hold(machine)
        # One at a time: order numbers count up, and no duty gets onto two open orders.
        Organisation.objects.select_for_update().get(pk=member.organisation_id)
        duties = _as_they_are_now(duties)
        _check_chosen(machine, duties, faults)
        check_licence([duty.task for duty in duties], technician)
        last = WorkOrder.objects.aggregate(last=Max("number"))["last"] or 0
        conflicts = in_the_way_of_work(machine, planned_for)
        to = _("plan it for that day")
        overruling = overrule(conflicts, to=to, member=member, reason=override_reason)
        order = WorkOrder(
            organisation_id=member.organisation_id,
            machine=machine,
            number=last + 1,
            technician=technician,
            planned_for=planned_for,
            made_by=member,
            note=note.strip(),
        )
        order.keep(overruling)
        order.save()
        if planned_for:
            expect_differently([machine.pk])
        ordered = _in_order_of_work(duties)
        Line.objects.bulk_create(_line_of(duty, order, position) for position, duty in enumerate(ordered, 1))
        for position, fault in enumerate(faults, start=len(ordered) + 1):
            fault.line = Line.objects.create(
                organisation_id=member.organisation_id,
                order=order,
                position=position,
                title=(_of(fault, order) + _("Put right: {fault}").format(fault=fault.text))[:160],
            )
            fault.save(update_fields=["line"])
    return order


def _as_they_are_now(duties: Sequence[Duty]) -> list[Duty]:
    """Return the duties with the marks they have now; work may have been recorded since they were shown."""
    now = Duty.objects.select_related("task__version__program", "machine").prefetch_related(
        "task__intervals", "task__cautions", "task__checks", "machine__overrides"
    )
    found = now.in_bulk({duty.pk for duty in duties})
    return [found[duty.pk] for duty in duties]


def _line_of(duty: Duty, order: WorkOrder, position: int) -> Line:
    rule = rule_for(duty.task, duty.machine)
    return Line(
        organisation_id=order.organisation_id,
        order=order,
        position=position,
        title=f"{_of(duty, order)}{duty.task.title}"[:160],
        duty=duty,
        task=duty.task,
        mark_hours=duty.mark_hours,
        mark_on=duty.mark_on,
        late_allowance_hours=rule.late_allowance_hours if rule else 0,
    )


def keep_in_service(machine: Machine) -> list[str]:
    """Return, in sentences, the open orders for which a machine can't be retired yet."""
    work = Line.objects.filter(open=True).filter(Q(duty__machine=machine) | Q(faults__machine=machine))
    orders = WorkOrder.objects.open().filter(Q(machine=machine) | Q(lines__in=work)).distinct()
    said = _("{order} is {state}; close or cancel it first.")
    return [
        said.format(order=order, state=order.get_state_display().lower())
        for order in orders.order_by("number")
    ]


def _of(work: Duty | Fault, order: WorkOrder) -> str:
    """What a line's title begins with: the attachment it is work on; nothing for the machine itself."""
    return "" if work.machine_id == order.machine_id else f"{work.machine}: "


def _check_chosen(machine: Machine, duties: Sequence[Duty], faults: Sequence[Fault]) -> None:
    if machine.retired_on:
        raise FleetError(_("{machine} is retired.").format(machine=machine), field="machine")
    there = {machine.pk, *Attachment.objects.mounted_on(machine).values_list("pk", flat=True)}
    for field, chosen in (("duties", duties), ("faults", faults)):
        if any(row.machine_id not in there for row in chosen):
            said = _("Choose only what belongs to {machine}.")
            raise FleetError(said.format(machine=machine), field=field)
        if len({row.pk for row in chosen}) < len(chosen):
            raise FleetError(_("The same thing is chosen twice."), field=field)
    ended = next((duty for duty in duties if not duty.active), None)
    if ended:
        said = _("“{task}” no longer falls due on {machine}.")
        raise FleetError(said.format(task=ended.task, machine=ended.machine), field="duties")
    lines = Line.objects.filter(open=True).select_related("order")
    for field, taken in (
        ("duties", lines.filter(duty__in=duties).first()),
        ("faults", lines.filter(faults__in=faults).first()),
    ):
        if taken:
            said = _("“{line}” is on {order}, which is open.")
            raise FleetError(said.format(line=taken.title, order=taken.order), field=field)


def _in_order_of_work(duties: Sequence[Duty]) -> list[Duty]:
    by_id = {duty.pk: duty for duty in duties}
    visits = order_of_work.route((duty.pk, duty.task) for duty in duties).visits
    return [by_id[number] for number in dict.fromkeys(visit.job.id for visit in visits)]
