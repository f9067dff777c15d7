"""What concerns whom: each fact has a key, and a fingerprint that changes when the fact does."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Count
from django.urls import reverse

from fleet.models import Member, Organisation
from fleet.sign_in import lockouts
from fleet.usage.figures import hours
from servicing.models import Duty, WorkOrder


@dataclass(frozen=True)
class Fact:
    """One line of a digest. Told again only once its fingerprint differs."""

    heading: str
    key: str
    fingerprint: str
    text: str
    invented: bool = False  # it rests on invented figures


OVERDUE = "Overdue"
LIKELY = "Likely soon, on no order yet"
ORDERS = "Your work orders"
SIGN_INS = "Sign-ins stopped after wrong passwords"
LOOKED_BACK = timedelta(days=2)  # for stopped sign-ins, so that a day without mail hides none
IN_SHORT = {  # after a 1, and after any other number
    OVERDUE: ("task overdue", "tasks overdue"),
    LIKELY: ("likely soon", "likely soon"),
    ORDERS: ("work order for you", "work orders for you"),
    SIGN_INS: ("stopped at signing in", "stopped at signing in"),
}
MORE = {SIGN_INS: "refused-sign-ins"}  # the page that tells all; else what lies ahead


def facts_by_member(
    organisation: Organisation, members: Iterable[Member], now: datetime
) -> dict[Member, list[Fact]]:
    """Return what concerns each member today, in a constant number of queries.

    Owners: what is overdue, and whose sign-ins were stopped. Managers, or the owners where there is no
    manager: what is likely within the organisation's notice and on no order. Technicians: their own open
    orders.
    """
    members = list(members)
    today = now.astimezone(ZoneInfo(organisation.zone)).date()
    managed = Member.objects.active().filter(role=Member.Role.MANAGER).exists()
    planner = Member.Role.MANAGER if managed else Member.Role.OWNER
    overdue = _overdue(today)
    likely = _likely(organisation.notice_days, today)
    orders = _orders()
    stopped = _stopped(organisation, now)
    return {
        member: [
            *(overdue if member.role == Member.Role.OWNER else []),
            *(likely if member.role == planner else []),
            *orders.get(member.pk, []),
            *(stopped if member.role == Member.Role.OWNER else []),
        ]
        for member in members
    }


def _overdue(today: date) -> list[Fact]:
    duties = Duty.objects.overdue(today).with_everything().order_by("machine__tag", "mark_hours", "pk")
    return [
        Fact(OVERDUE, f"duty:{duty.pk}:overdue", _mark(duty), f"{_named(duty)}: {_due(duty)}", duty.invented)
        for duty in duties
    ]


def _likely(days: int, today: date) -> list[Fact]:
    duties = (
        Duty.objects.likely_within(days, today).unassigned().with_everything().annotate(orders=Count("lines"))
    )
    return [
        Fact(
            LIKELY,
            f"duty:{duty.pk}:likely",
            f"{_mark(duty)} after {duty.orders} orders",
            f"{_named(duty)}: likely {duty.likely:%a %-d %b}, {_due(duty)}",
            duty.invented,
        )
        for duty in duties.order_by("likely", "machine__tag", "pk")
    ]


def _orders() -> dict[int, list[Fact]]:
    orders: dict[int, list[Fact]] = defaultdict(list)
    for order in (
        WorkOrder.objects.open().exclude(technician=None).with_everything().annotate(count=Count("lines"))
    ):
        day = f"{order.planned_for:%a %-d %b}" if order.planned_for else "no day set"
        orders[order.technician.member_id].append(
            Fact(
                ORDERS,
                f"order:{order.pk}",
                f"{order.state} {order.planned_for}",
                f"Order {order.number}, {order.machine.tag} ({order.machine.type}): {order.state}, {day}, "
                f"{order.count} {'line' if order.count == 1 else 'lines'}\n  {link('order', order.pk)}",
                order.invented,
            )
        )
    return orders


def _stopped(organisation: Organisation, now: datetime) -> list[Fact]:
    """A line for each person, told again once they were stopped again: strangers can't make more of them."""
    zone = ZoneInfo(organisation.zone)
    return [
        Fact(
            SIGN_INS,
            f"sign-in:{each.person.pk}",
            each.last.isoformat(),
            f"{each.person}, {each.times} {'time' if each.times == 1 else 'times'} in two days, last on "
            f"{each.last.astimezone(zone):%a %-d %b at %H:%M} from {each.address}\n"
            f"  {link('refused-sign-ins')}",
        )
        for each in lockouts.stopped(organisation, since=now - LOOKED_BACK)
    ]


def _named(duty: Duty) -> str:
    return f"{duty.machine.tag} ({duty.machine.type}), {duty.task.title}"


def _mark(duty: Duty) -> str:
    return f"{duty.mark_hours} {duty.mark_on}"


def _due(duty: Duty) -> str:
    parts = []
    if duty.mark_hours is not None:
        parts.append(f"due at {hours(duty.mark_hours)} (now {hours(duty.machine.hours)})")
    if duty.mark_on is not None:
        parts.append(f"due on {duty.mark_on:%-d %b %Y}")
    said = " or ".join(parts)
    return f"{said}; earlier than by its rule: {duty.forward_reason}" if duty.forward_reason else said


def link(name: str, *args: object) -> str:
    """Return the full address of a page, for use outside a request."""
    return settings.SITE_URL + reverse(name, args=args)
