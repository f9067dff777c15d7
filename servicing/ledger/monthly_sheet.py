"""The month's sheet: one row a machine, and totals that add up what the rows print."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from servicing.ledger import compliance, costs, outlook
from servicing.ledger.period import Month
from servicing.ledger.rounding import half_up, share

NOTHING = Decimal("0.0")


@dataclass(frozen=True)
class MachineMonth:
    """One machine's month. `hours` is None where no reading tells, `expected_cost` where no standard.

    Hours and days down to a tenth, money to a cent. `deferred` counts lines deferred in the month.
    `hangs`: it is an attachment, whose hours are its hosts' again.
    """

    machine_id: int
    tag: str
    kind: str
    hours: Decimal | None = None
    cost: costs.Cost = field(default_factory=costs.Cost)
    expected_cost: Decimal | None = None
    days_down: Decimal = NOTHING
    marks: compliance.Compliance = field(default_factory=compliance.Compliance)
    deferred: int = 0
    hangs: bool = False

    @property
    def per_hour(self) -> Decimal | None:
        """Cost of an hour run; None when none was."""
        return self.cost.per_hour(self.hours)


@dataclass(frozen=True)
class Expected:
    """What one machine in service today is expected to need in the coming days."""

    machine_id: int
    tag: str
    kind: str
    coming: outlook.Outlook
    hangs: bool


@dataclass(frozen=True)
class Sheet:
    """A month of an organisation. `until` is its last day, or today while it is still running.

    `ahead`: what the coming days are expected to bring, counted from today whatever the month. `invented`:
    the ids of machines of which something is counted by invented figures. `planned`: whether any task can
    fall due, which takes a machine with a service program.
    """

    month: Month
    until: date
    running: bool
    rows: Sequence[MachineMonth]
    ahead: Sequence[Expected] = ()
    invented: Collection[int] = ()
    planned: bool = True

    @property
    def days(self) -> int:
        """Days of the month up to `until`, the last one included."""
        return (self.until - self.month.first_day).days + 1

    @property
    def hours(self) -> Decimal:
        """Hours run by all machines whose readings tell; those of attachments are in their hosts'."""
        return sum((row.hours for row in self.rows if row.hours is not None and not row.hangs), NOTHING)

    @property
    def silent(self) -> int:
        """How many machines have no reading that tells."""
        return sum(row.hours is None and not row.hangs for row in self.rows)

    @property
    def hanging(self) -> int:
        """How many attachments are among the rows; their hours stand in their rows and not in the total."""
        return sum(row.hangs for row in self.rows)

    @property
    def cost(self) -> costs.Cost:
        """Parts and labour of all machines."""
        return costs.add(row.cost for row in self.rows)

    @property
    def per_hour(self) -> Decimal | None:
        """Cost of an hour run, over all machines; None when none was run."""
        return self.cost.per_hour(self.hours)

    @property
    def compared(self) -> tuple[Decimal, Decimal] | None:
        """Cost and what the standard expects, of the machines it speaks about; None when of none."""
        rows = [(row.cost.total, row.expected_cost) for row in self.rows if row.expected_cost is not None]
        if not rows:
            return None
        return sum((spent for spent, _ in rows), Decimal(0)), sum((due for _, due in rows), Decimal(0))

    @property
    def days_down(self) -> Decimal:
        """Days machines were in the shop or tagged out, added up."""
        return sum((row.days_down for row in self.rows), NOTHING)

    @property
    def usable(self) -> Decimal | None:
        """Share of machine days on which machines could be used, in per cent; None without machines."""
        down = share(self.days_down, half_up(Decimal(self.days * len(self.rows))))
        return None if down is None else 100 - down

    @property
    def marks(self) -> compliance.Compliance:
        """The marks of all machines."""
        return compliance.add(row.marks for row in self.rows)

    @property
    def deferred(self) -> int:
        """Lines deferred in the month."""
        return sum(row.deferred for row in self.rows)

    @property
    def coming(self) -> outlook.Outlook:
        """What the coming days are expected to bring, over all machines."""
        return outlook.add(row.coming for row in self.ahead)
