"""The days that orders take of their machines, for the fleet's calendar (`fleet.calendar.commitments`)."""

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Q
from django.utils.translation import gettext as _

from fleet.calendar.commitments import Days, Kind, Promise, Reach
from fleet.usage.figures import long_day
from servicing.models import WorkOrder


def days_of_orders(reach: Reach, now: datetime) -> Iterator[tuple[Days, Promise]]:
    """Return the days of open orders: the planned day, or from its start to the end of today once begun.

    An order begun has no known end, so each day it speaks for that day alone. One planned for a day
    that has gone takes none.
    """
    takes = Q(planned_for__isnull=False) | Q(started_at__isnull=False)
    orders = WorkOrder.objects.open().filter(takes, machine__in=reach).select_related("machine")
    for order in orders:
        for days in reach[order.machine_id]:
            today = days.machine.today(now)
            if order.started_at:
                first, last = days.machine.today(order.started_at), today
            elif order.planned_for < today:
                continue
            else:
                first = last = order.planned_for
            said = _sentence(order, mounted=order.machine_id != days.machine.pk)
            sentence = said.format(order=order, attachment=order.machine, day=long_day(first))
            yield days, Promise(Kind.WORK, order.pk, sentence, first, last)


def _sentence(order: WorkOrder, *, mounted: bool) -> str:
    if order.started_at and mounted:
        return _("{order} on {attachment}, which is mounted on it, has been under way since {day}.")
    if order.started_at:
        return _("{order} has been under way since {day}.")
    if mounted:
        return _("{order} on {attachment}, which is mounted on it, is planned for {day}.")
    return _("{order} is planned for {day}.")
