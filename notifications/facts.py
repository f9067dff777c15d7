"""What concerns whom: each fact has a key, and a fingerprint that changes when the fact does."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count

from fleet.models import Member, Organisation
from fleet.sign_in import lockouts
from fleet.sign_in.lockouts import Stopped
from servicing.models import Duty, WorkOrder


@dataclass(frozen=True)
class Fact:
    """One line of a digest. Told again only once its fingerprint differs.

    kind: the heading it stands under. about: what the line is written from.
    """

    kind: str
    key: str
    fingerprint: str
    about: Duty | WorkOrder | Stopped
    invented: bool = False  # it rests on invented figures


OVERDUE, LIKELY, ORDERS, SIGN_INS = "overdue", "likely", "orders", "sign-ins"  # as digest.txt knows them
LOOKED_BACK = timedelta(days=2)  # for stopped sign-ins, so that a day without mail hides none


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
    return [Fact(OVERDUE, f"duty:{duty.pk}:overdue", _mark(duty), duty, duty.invented) for duty in duties]


def _likely(days: int, today: date) -> list[Fact]:
    duties = (
        Duty.objects.likely_within(days, today).unassigned().with_everything().annotate(orders=Count("lines"))
    )
    return [
        Fact(
            LIKELY,
            f"duty:{duty.pk}:likely",
            f"{_mark(duty)} after {duty.orders} orders",
            duty,
            duty.invented,
        )
        for duty in duties.order_by("likely", "machine__tag", "pk")
    ]


def _orders() -> dict[int, list[Fact]]:
    orders: dict[int, list[Fact]] = defaultdict(list)
    for order in (
        WorkOrder.objects.open().exclude(technician=None).with_everything().annotate(count=Count("lines"))
    ):
        orders[order.technician.member_id].append(
            Fact(
                ORDERS,
                f"order:{order.pk}",
                f"{order.state} {order.planned_for}",
                order,
                order.invented,
            )
        )
    return orders


def _stopped(organisation: Organisation, now: datetime) -> list[Fact]:
    """A line for each person, told again once they were stopped again: strangers can't make more of them."""
    return [
        Fact(
            SIGN_INS,
            f"sign-in:{each.person.pk}",
            each.last.isoformat(),
            each,
        )
        for each in lockouts.stopped(organisation, since=now - LOOKED_BACK)
    ]


def _mark(duty: Duty) -> str:
    return f"{duty.mark_hours} {duty.mark_on}"
