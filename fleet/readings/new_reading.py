"""New readings of a batch, from the meter that showed them to the rows they are kept as."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from operator import attrgetter
from typing import Any

from fleet.core import bulk_insert
from fleet.models import Reading
from fleet.readings.machine_lookup import Found

COLUMNS = (
    *("machine_id", "segment_id", "taken_at", "shows", "hours", "client_id", "note"),
    *("state", "code", "reason", "suggestion", "suggested_at"),
)
values_of = attrgetter(*COLUMNS)


@dataclass(slots=True, eq=False)
class Taken:
    """A reading that is not kept yet, with what is made of it."""

    machine: Found
    segment_id: int
    taken_at: datetime
    shows: Decimal
    hours: Decimal
    client_id: str | None
    note: str
    doubt: str = ""
    state: str = ""
    code: str = ""
    reason: str = ""
    suggestion: Decimal | None = None
    suggested_at: datetime | None = None
    pk: int | None = None

    @property
    def machine_id(self) -> int:
        """The id of its machine, by the name that a kept reading has for it."""
        return self.machine.pk


def keep(taken: Sequence[Taken], *, alike: Mapping[str, Any]) -> None:
    """Write the readings and give each its id. alike: the values that are the same in all of them.

    Raises IntegrityError.
    """
    same = tuple(alike.values())
    rows = [values_of(reading) + same for reading in taken]
    for reading, pk in zip(taken, bulk_insert.insert(Reading, (*COLUMNS, *alike), rows), strict=True):
        reading.pk = pk
