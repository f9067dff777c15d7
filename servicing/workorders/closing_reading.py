"""What the hour meter showed when an order was closed: taken in as a reading, found again, put right."""

from datetime import datetime
from decimal import Decimal
from typing import cast

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.models import Member, Reading
from fleet.readings import Submitted, decisions, take
from servicing.models import WorkOrder
from servicing.workorders.judging import Judged


def take_hours(
    order: WorkOrder, judged: Judged, member: Member, finished_at: datetime, now: datetime
) -> Decimal:
    """Let the meter's figure in as a reading; what is wrong with it joins the problems.

    Returns the machine's hours when the work was finished: the reading's if it counts, else the last known.
    """
    if judged.entries.hours is None:
        return order.machine.hours
    receipt = take(
        organisation=order.machine.yard.organisation,
        rows=[Submitted(machine=order.machine_id, taken_at=finished_at, shows=judged.entries.hours)],
        source=Reading.Source.ORDER,
        sender=str(order.number),
        member=member,
        now=now,
    )[0]
    order.machine.refresh_from_db(fields=["hours", "hours_at", "projection_wanted_at"])
    if receipt.state == "refused":
        judged.wrong(receipt.reason, "hours")
    elif receipt.state == "held" and not judged.entries.hours_confirmed:
        again = _("Read the meter again; if it does show this, confirm it below.")
        judged.wrong(f"{receipt.reason} {again}", "hours")
    reading = receipt.reading
    if reading and reading.state == Reading.State.DISCARDED:
        judged.wrong(_("This reading was discarded as wrong; enter what the meter showed."), "hours")
    return reading.hours if reading and reading.state == Reading.State.COUNTED else order.machine.hours


def reading_of(order: WorkOrder) -> Reading | None:
    """Return the reading entered with the order, or what was put in its place; None: it was discarded."""
    entered = Reading.objects.filter(
        machine=order.machine_id, source=Reading.Source.ORDER, sender=str(order.number)
    )
    reading = entered.latest_first().first()
    while reading is not None and reading.state == Reading.State.DISCARDED:
        reading = reading.corrections.order_by("-pk").first()
    return reading


def correct_hours(order: WorkOrder, judged: Judged, member: Member, reason: str, now: datetime) -> Decimal:
    """Put the meter's figure of a closed order right; what is wrong with it joins the problems.

    Returns the hours at which the order was closed, as they are now known.
    """
    shows = judged.entries.hours
    known = reading_of(order)
    if shows is None or (known and shows == known.shows):
        return cast(Decimal, order.hours_at_close)
    if known is None:
        return take_hours(order, judged, member, cast(datetime, order.closed_at), now)
    try:
        return decisions.correct(reading=known, shows=shows, member=member, note=reason).hours
    except FleetError as error:
        judged.wrong(error.sentence, "hours")
        return cast(Decimal, order.hours_at_close)
