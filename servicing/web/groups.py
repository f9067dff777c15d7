"""Duties gathered by machine, because a machine stopped once is better than twice."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from fleet.models import Machine
from servicing.models import Duty


@dataclass
class MachineDuties:
    """A machine and some of its duties, in the order they came."""

    machine: Machine
    duties: list[Duty] = field(default_factory=list)

    @property
    def first_likely(self) -> date | None:
        """The earliest likely day among them."""
        return min((duty.likely for duty in self.duties if duty.likely), default=None)

    @property
    def order_numbers(self) -> list[int]:
        """The open orders that carry some of them."""
        return sorted({duty.order_number for duty in self.duties if duty.order_number})

    @property
    def unplanned(self) -> list[Duty]:
        """Those that no open order carries."""
        return [duty for duty in self.duties if not duty.order_number]


def by_machine(duties: Iterable[Duty]) -> list[MachineDuties]:
    """Return the duties gathered by machine, machines in the order of their first duty."""
    groups: dict[int, MachineDuties] = {}
    for duty in duties:
        groups.setdefault(duty.machine_id, MachineDuties(duty.machine)).duties.append(duty)
    return list(groups.values())
