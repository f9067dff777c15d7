"""Duties gathered by machine and into stops, because a machine stopped once is better than twice."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.utils.translation import gettext as _

from fleet.models import Machine, Yard
from servicing.models import Duty
from servicing.planning.stops import gather


@dataclass(frozen=True)
class Stop:
    """Duties of one machine that fall due close together. Its days are those of the first to fall due."""

    duties: Sequence[Duty]
    overdue: bool = False

    @property
    def first(self) -> Duty:
        """The duty that falls due first."""
        return self.duties[0]

    @property
    def titles(self) -> str:
        """What it consists of, in words, with the reason where something was brought forward."""
        return "; ".join(
            _("{task} (earlier: {reason})").format(task=duty.task.title, reason=duty.forward_reason)
            if duty.forward_reason
            else duty.task.title
            for duty in self.duties
        )

    @property
    def orders(self) -> dict[int, int]:
        """Numbers of the open orders that carry some of it, with their ids."""
        return {
            duty.order_number: duty.order_id for duty in self.duties if duty.order_number and duty.order_id
        }


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
    def first_order(self) -> Duty | None:
        """The first of them that an open order carries."""
        return next((duty for duty in self.duties if duty.order_number), None)

    @property
    def unplanned(self) -> list[Duty]:
        """Those that no open order carries."""
        return [duty for duty in self.duties if not duty.order_number]

    @property
    def stops(self) -> list[Stop]:
        """The duties gathered into stops, none of them overdue."""
        return stops(self.duties)


def by_machine(duties: Iterable[Duty]) -> list[MachineDuties]:
    """Return the duties gathered by machine, machines in the order of their first duty."""
    groups: dict[int, MachineDuties] = {}
    for duty in duties:
        groups.setdefault(duty.machine_id, MachineDuties(duty.machine)).duties.append(duty)
    return list(groups.values())


def by_yard(groups: Iterable[MachineDuties]) -> list[tuple[Yard, list[MachineDuties]]]:
    """Return the machines by their yard, yards in the order of their first machine."""
    yards: dict[int, tuple[Yard, list[MachineDuties]]] = {}
    for group in groups:
        yard = group.machine.yard
        yards.setdefault(yard.pk, (yard, []))[1].append(group)
    return list(yards.values())


def stops(duties: Iterable[Duty], today: date | None = None) -> list[Stop]:
    """Return one machine's duties as stops: first what is overdue today, then by likely day."""
    rows = list(duties)
    overdue = [duty for duty in rows if today and duty.is_overdue(today)]
    ahead = [duty for duty in rows if duty not in overdue]
    gathered = [
        Stop([ahead[place] for place in places]) for places in gather([duty.likely for duty in ahead])
    ]
    return [Stop(overdue, overdue=True), *gathered] if overdue else gathered
