"""Devices whose clock is off: their readings are held for their time, with the time that was likely meant."""

from collections.abc import Iterable
from datetime import datetime, timedelta

import numpy as np
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleet.core.column_arrays import Days
from fleet.core.prepared_queries import prepared
from fleet.models import ApiToken, Reading
from fleet.readings.new_reading import Taken
from fleet.usage import sender_clock
from fleet.usage.days import day_of
from fleet.usage.figures import span

LOOKED_AT = 200  # latest readings of a device by which its clock is judged
FROM_FUTURE, CLOCK_OFF = Reading.CLOCK_CODES
AHEAD = _("{reason} The clock of {device} seems to be {off} ahead.")
BEHIND = _(
    "The clock of {device} seems to be {off} behind: its last {sends} messages all came that much later "
    "than the time they give."
)


class Clock:
    """The clock of a device that has sent a batch."""

    def __init__(self, token: ApiToken, *, now: datetime, sent: Iterable[datetime]) -> None:
        """Learn from the device's latest readings (one query) and from the times this batch gives."""
        latest = np.array(list(_latest(token=token.pk)), float).reshape(-1, 2).T
        times = [day_of(at) for at in sent]
        taken = np.append(latest[0], times)
        received = np.append(latest[1], np.full(len(times), day_of(now)))
        self._device = token.name
        self._ahead = sender_clock.ahead((taken - received).tolist())
        came, send = np.unique(received, return_inverse=True)
        freshest = np.full(len(came), np.inf)
        np.minimum.at(freshest, send, received - taken)
        self._behind = sender_clock.behind(freshest.tolist(), came.tolist())
        if self._behind is not None and _trusted(token):
            self._behind = None

    def holds(self, reading: Taken) -> bool:
        """Hold the reading when the clock is behind, with the time that was likely meant.

        Once a person has let one held for this count as it stands, the device's delay is taken for a delay.
        """
        if self._behind is None:
            return False
        reading.state, reading.code = Reading.State.HELD, CLOCK_OFF
        reading.suggested_at = _moved(reading.taken_at, self._behind)
        reading.reason = BEHIND.format(device=self._device, off=span(self._behind), sends=sender_clock.SENDS)
        return True

    def explain(self, reading: Taken) -> None:
        """Say of a reading from the future by how much the clock is ahead, and what time was likely meant."""
        if reading.code == FROM_FUTURE and self._ahead is not None:
            reading.suggested_at = _moved(reading.taken_at, -self._ahead)
            reading.reason = AHEAD.format(reason=reading.reason, device=self._device, off=span(self._ahead))


@prepared
def _latest(token: int) -> QuerySet:
    readings = Reading.objects.filter(token=token).order_by("-pk")
    return readings.values_list(Days("taken_at"), Days("received_at"))[:LOOKED_AT]


def _trusted(token: ApiToken) -> bool:
    held_for_it = Reading.objects.counted().filter(token=token, code=CLOCK_OFF)
    return held_for_it.exclude(decided_at=None).exists()


def _moved(moment: datetime, days: float) -> datetime:
    return (moment + timedelta(days=days, milliseconds=500)).replace(microsecond=0)
