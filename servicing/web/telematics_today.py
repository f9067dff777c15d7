"""What of telematics stands on Today: questions about units, silent machines, sources that can't be read."""

from dataclasses import dataclass, field
from datetime import datetime

from fleet.models import TelematicsSource, TelematicsUnit

MOST = 5  # of each kind; the rest is a link away


@dataclass
class TelematicsToday:
    """The first few of each, and how many more there are."""

    unread: list[TelematicsSource] = field(default_factory=list)
    asking: list[TelematicsUnit] = field(default_factory=list)
    more_asking: int = 0
    silent: list[TelematicsUnit] = field(default_factory=list)
    more_silent: int = 0

    @property
    def any(self) -> bool:
        """Whether there is anything to say."""
        return bool(self.unread or self.asking or self.silent)


def telematics_today(now: datetime) -> TelematicsToday:
    """Collect it; asks no more with many units than with one. Needs the organisation's scope."""
    asking = TelematicsUnit.objects.asking().filter(source__active=True)
    silent = TelematicsUnit.objects.silent(now)
    return TelematicsToday(
        unread=list(TelematicsSource.objects.unread(now)[:MOST]),
        asking=list(asking.select_related("source")[:MOST]),
        more_asking=max(asking.count() - MOST, 0),
        silent=list(silent.select_related("source", "machine__type")[:MOST]),
        more_silent=max(silent.count() - MOST, 0),
    )
