"""Hour readings. `take` is the one door for them; what people decide about readings is `decisions`."""

from fleet.readings.door import take
from fleet.readings.submission import Receipt, Submitted

__all__ = ["Receipt", "Submitted", "take"]
