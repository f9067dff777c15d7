"""What a technician enters for an order, as it was typed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from servicing.workorders.errors import Problem


@dataclass(frozen=True)
class CheckEntry:
    """One check as typed. A number is text, kept with every digit; a blank unit is the limit's."""

    check: int
    found: str = ""
    found_unit: str = ""
    left: str = ""
    left_unit: str = ""


@dataclass(frozen=True)
class LineEntry:
    """What came of one line. `reason`: why it is deferred, or what the dealer is to look at."""

    line: int
    outcome: str = ""
    reason: str = ""
    deferred_until: date | None = None
    note: str = ""
    checks: Sequence[CheckEntry] = ()


@dataclass(frozen=True)
class PartEntry:
    """How much of a part was used, in the part's unit."""

    part: int
    quantity: Decimal


@dataclass(frozen=True)
class LabourEntry:
    """Whole minutes that one technician spent."""

    technician: int
    minutes: int


@dataclass(frozen=True)
class Entries:
    """All that is entered for an order.

    `hours`: what the hour meter shows. `hours_confirmed`: the meter was read again and does show that,
    however unlikely it looks; the reading then waits for a person to decide. `finished_at`: when the work was
    finished, where the entries had to wait for a line; None: now. `unread`: what was entered and could not be
    read at all, so that it isn't among these. `undecided`: where somebody else's value differs and it wasn't
    said which of the two stands; nothing is recorded then.
    """

    lines: Sequence[LineEntry] = ()
    parts: Sequence[PartEntry] = ()
    labour: Sequence[LabourEntry] = ()
    hours: Decimal | None = None
    hours_confirmed: bool = False
    finished_at: datetime | None = None
    unread: Sequence[Problem] = ()
    undecided: Sequence[Problem] = ()
