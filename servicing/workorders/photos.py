"""Photos of the work, kept with the line they show."""

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.core.errors import WrongState
from fleet.core.permission import require
from fleet.core.photos import checked_photo, kept_already
from fleet.models import Member
from servicing.models import Line, LinePhoto, WorkOrder
from servicing.workorders.locking import WORK, State

TAKES_PHOTOS = (State.STARTED, State.ON_HOLD, State.CLOSED)


def add_photo(*, line: Line, photo: Any, member: Member, now: datetime | None = None) -> LinePhoto:
    """Keep a photo with a line of an order under way or closed; return it.

    A photo sent twice, because the answer to the first sending was lost, is kept once. The order's revision
    stays: a photo is in nobody's way. Raises NotAllowed; WrongState before the work has begun or once the
    order is cancelled; FleetError on `photo`.
    """
    require(member, "work_orders", WORK, line)
    checked = checked_photo(photo)
    with scope(organisation=member.organisation), transaction.atomic():
        order = WorkOrder.objects.select_for_update().get(pk=line.order_id)
        if order.state not in TAKES_PHOTOS:
            said = _("{order} is {state}; it takes no photos.")
            raise WrongState(said.format(order=order, state=order.get_state_display().lower()))
        return kept_already(line.photos.all(), checked) or LinePhoto.objects.create(
            organisation_id=line.organisation_id,
            line=line,
            image=checked,
            taken_by=member,
            taken_at=now or timezone.now(),
        )
