"""Devices whose clock is off: their readings are held for their time, with the time that was likely meant."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from fleet.models import ApiToken, Reading
from fleet.usage import clock
from fleet.usage.days import DAY
from fleet.usage.figures import span

LOOKED_AT = 200  # latest readings of a device by which its clock is judged
FROM_FUTURE, CLOCK_OFF = Reading.CLOCK_CODES
AHEAD = "{reason} The clock of {device} seems to be {off} ahead."
BEHIND = (
    "The clock of {device} seems to be {off} behind: its last {sends} messages all came that much later "
    "than the time they give."
)


class Clock:
    """The clock of a device that has sent a batch."""

    def __init__(self, token: ApiToken, *, now: datetime, sent: Iterable[datetime]) -> None:
        """Learn from the device's latest readings (one query) and from the times this batch gives."""
        latest = list(
            Reading.objects.filter(token=token)
            .order_by("-pk")
            .values_list("taken_at", "received_at")[:LOOKED_AT]
        )
        times = [*reversed(latest), *((at, now) for at in sent)]
        self._device = token.name
        self._ahead = clock.ahead([_days(taken - received) for taken, received in times])
        sends: dict[datetime, float] = {}
        for taken, received in times:
            late = _days(received - taken)
            sends[received] = min(sends.get(received, late), late)
        came = sorted(sends)
        self._behind = clock.behind([sends[at] for at in came], [_days(at - came[-1]) for at in came])
        if self._behind is not None and _trusted(token):
            self._behind = None

    def holds(self, reading: Reading) -> bool:
        """Hold the reading when the clock is behind, with the time that was likely meant.

        Once a person has let one held for this count as it stands, the device's delay is taken for a delay.
        """
        if self._behind is None:
            return False
        reading.state, reading.code = Reading.State.HELD, CLOCK_OFF
        reading.suggested_at = _moved(reading.taken_at, self._behind)
        reading.reason = BEHIND.format(device=self._device, off=span(self._behind), sends=clock.SENDS)
        return True

    def explain(self, reading: Reading) -> None:
        """Say of a reading from the future by how much the clock is ahead, and what time was likely meant."""
        if reading.code == FROM_FUTURE and self._ahead is not None:
            reading.suggested_at = _moved(reading.taken_at, -self._ahead)
            reading.reason = AHEAD.format(reason=reading.reason, device=self._device, off=span(self._ahead))


def _trusted(token: ApiToken) -> bool:
    held_for_it = Reading.objects.counted().filter(token=token, code=CLOCK_OFF)
    return held_for_it.exclude(decided_at=None).exists()


def _moved(moment: datetime, days: float) -> datetime:
    return (moment + timedelta(days=days)).replace(microsecond=0)


def _days(length: timedelta) -> float:
    return length / DAY
