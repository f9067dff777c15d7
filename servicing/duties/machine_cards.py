"""What the page behind a sticker tells of its machine: the last reading, and what is due next."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, TypedDict

from django.db.models import F, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.wording import day, hours, moment
from fleet.models import Machine, Member, MeterSegment
from servicing.models import Duty
from servicing.models.program import INVENTED_FIGURES

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Ahead(TypedDict):
        """What is added to a machine."""

        meter_offset: Decimal | None
        overdue_task: str | None
        overdue_count: int
        rests_on_invented: bool | None
        next_task: str | None
        next_hours: Decimal | None
        next_on: date | None
        next_likely: date | None

    Planned = WithAnnotations[Machine, Ahead]


@dataclass(frozen=True)
class Card:
    """One machine in words, as a page shows it or a phone keeps it.

    meter: what its meter showed at the last reading, in hours; None before the first. read_at: when that was.
    """

    machine: int
    code: str
    tag: str
    about: str
    last: str
    due: str
    overdue: bool
    meter: Decimal | None
    read_at: datetime | None


def cards(member: Member, *, code: str | None = None) -> list[Card]:
    """Return the cards of the machines a member may see and that have a meter; of one code where it is given.

    Needs the organisation's scope; asks one query, however many machines there are.
    """
    machines = Machine.objects.visible_to(member).in_service().metered()
    if code is not None:
        machines = machines.filter(code=code)
    today = member.organisation.today()
    return [_card(machine) for machine in _with_next(machines, today).order_by("tag")]


def _with_next(machines: QuerySet[Machine], today: date) -> "QuerySet[Planned]":
    """Add what the meter counts from, the next duty, and the first and the number of those overdue."""
    duties = Duty.objects.live().filter(machine=OuterRef("pk"))
    following = duties.order_by(F("likely").asc(nulls_last=True), "mark_hours", "pk")
    overdue = Duty.objects.overdue(today).filter(machine=OuterRef("pk"))
    first_overdue = overdue.order_by(F("mark_hours").asc(nulls_last=True), "mark_on", "pk")
    running = MeterSegment.objects.filter(machine=OuterRef("pk"), ended_at=None)
    return machines.select_related("type", "yard__organisation").annotate(
        meter_offset=Subquery(running.values("offset")[:1]),
        overdue_task=Subquery(first_overdue.values("task__title")[:1]),
        overdue_count=Duty.objects.overdue(today).number_on_machine(),
        rests_on_invented=Coalesce(
            Subquery(first_overdue.values("task__version__invented")[:1]),
            Subquery(following.values("task__version__invented")[:1]),
        ),
        next_task=Subquery(following.values("task__title")[:1]),
        next_hours=Subquery(following.values("mark_hours")[:1]),
        next_on=Subquery(following.values("mark_on")[:1]),
        next_likely=Subquery(following.values("likely")[:1]),
    )


def _card(machine: "Planned") -> Card:
    meter = machine.hours - (machine.meter_offset or 0) if machine.hours_at else None
    with timezone.override(machine.zoneinfo):
        return Card(
            machine=machine.pk,
            code=machine.code,
            tag=machine.tag,
            about=f"{machine.type}, {machine.yard}",
            last=_last(machine, meter),
            due=_due(machine),
            overdue=bool(machine.overdue_count),
            meter=meter,
            read_at=machine.hours_at,
        )


def _last(machine: Machine, meter: Decimal | None) -> str:
    if meter is None:
        return _("Not read yet.")
    if meter == machine.hours:
        return f"{hours(meter)}, {moment(machine.hours_at)}"
    return _("{meter} ({total} in total), {moment}").format(
        meter=hours(meter), total=hours(machine.hours), moment=moment(machine.hours_at)
    )


def _due(machine: "Planned") -> str:
    said = _next_work(machine)
    return f"{said}. {_(INVENTED_FIGURES)}" if machine.rests_on_invented else said


def _next_work(machine: "Planned") -> str:
    if machine.overdue_count:
        others = machine.overdue_count - 1
        if not others:
            return str(machine.overdue_task)
        return _("{task} and {number} more").format(task=machine.overdue_task, number=others)
    if not machine.next_task:
        return _("Nothing: it has no service programme yet.")
    if machine.next_likely and machine.next_likely != machine.next_on:
        return _("{task} {when_due}, likely {day}").format(
            task=machine.next_task, when_due=_when_due(machine), day=day(machine.next_likely)
        )
    return f"{machine.next_task} {_when_due(machine)}"


def _when_due(machine: "Planned") -> str:
    at, on = hours(machine.next_hours), day(machine.next_on)
    if machine.next_on is None:
        return _("at {hours}").format(hours=at)
    if machine.next_hours is None:
        return _("on {day}").format(day=on)
    return _("at {hours} or on {day}").format(hours=at, day=on)
