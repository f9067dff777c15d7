"""Which figures nobody has entered yet: minutes of tasks, costs of parts, hourly rates, purchase prices.

Only what counts is asked for: a task that falls due on a machine in service, a part that such a task needs or
that was used within a year, a technician who can be given work, a machine in service.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from operator import itemgetter

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from fleet.models import Machine, Member
from servicing.duties.applicability import ProgramTask, as_program_task, departures_of
from servicing.models import Part, PartUsed, ProgramVersion, SupplyNeed, Task, Technician

A_YEAR = timedelta(days=365)
RIGHTS = {
    "minutes": "manage_fleet",
    "costs": "plan_orders",
    "rates": "plan_orders",
    "prices": "manage_fleet",
}
"""The kinds of figures, and the right by which each is entered: that of the page of a single one."""


@dataclass(frozen=True)
class MissingMinutes:
    """A task without minutes, of a current program, and on how many machines in service it falls due."""

    task: Task
    machines: int


@dataclass(frozen=True)
class MissingCost:
    """A part without a cost. `calls`: needs of tasks, counted on each machine, and uses within a year."""

    part: Part
    calls: int


@dataclass(frozen=True)
class MissingFigures:
    """What is missing, the most used first; technicians by name, machines by tag."""

    minutes: tuple[MissingMinutes, ...] = ()
    costs: tuple[MissingCost, ...] = ()
    rates: tuple[Technician, ...] = ()
    prices: tuple[Machine, ...] = ()

    def __len__(self) -> int:
        return sum(len(getattr(self, kind.name)) for kind in fields(self))

    def first(self, most: int) -> "MissingFigures":
        """Return so many of them: short lists whole, the rest of the room shared by the long ones."""
        lists = {kind.name: getattr(self, kind.name) for kind in fields(self)}
        shares, left = {}, most
        for done, (kind, number) in enumerate(
            sorted(((kind, len(listed)) for kind, listed in lists.items()), key=itemgetter(1))
        ):
            shares[kind] = min(number, left // (len(lists) - done))
            left -= shares[kind]
        return MissingFigures(**{kind: listed[: shares[kind]] for kind, listed in lists.items()})


def missing(member: Member, *, now: datetime | None = None) -> MissingFigures:
    """Return the figures missing that the member may enter; a constant number of queries.

    Needs the organisation's scope.
    """
    found = _Found(member, now or timezone.now())
    parts = Part.objects.filter(pk__in=found.calls)
    costs = [MissingCost(part, found.calls[part.pk]) for part in parts]
    return MissingFigures(
        minutes=tuple(
            sorted(
                (MissingMinutes(task, found.machines[task.pk]) for task in found.untimed),
                key=lambda each: (-each.machines, each.task.version.program.title, each.task.position),
            )
        ),
        costs=tuple(sorted(costs, key=lambda each: (-each.calls, each.part.name, each.part.number))),
        rates=tuple(found.unrated().select_related("member__user")),
        prices=tuple(found.unpriced().select_related("type").order_by("tag")),
    )


def how_many_missing(member: Member | None, *, now: datetime | None = None) -> Mapping[str, int]:
    """Return how many figures are missing of each kind: minutes, costs, rates, prices; as `missing` has them.

    member: None for all, whoever may enter them. At most eleven queries. Needs the organisation's scope.
    """
    found = _Found(member, now or timezone.now())
    return {
        "minutes": len(found.untimed),
        "costs": len(found.calls),
        "rates": found.unrated().count(),
        "prices": found.unpriced().count(),
    }


def may_enter(member: Member | None, kind: str) -> bool:
    """Whether the member may enter figures of this kind, a key of RIGHTS; None: the operator, who may."""
    return member is None or bool(getattr(member.rights, RIGHTS[kind]))


class _Found:
    """What is missing, as ids and numbers. `machines`: in service, by task; `calls`: by part."""

    def __init__(self, member: Member | None, now: datetime) -> None:
        self._member = member
        tasks = _tasks() if any(may_enter(member, kind) for kind in ("minutes", "costs")) else []
        self.machines = machines_by_task(tasks)
        self.untimed = [
            task
            for task in tasks
            if may_enter(member, "minutes") and not task.minutes and self.machines[task.pk]
        ]
        self.calls = _calls(self.machines, now) if may_enter(member, "costs") else Counter()

    def unrated(self) -> "QuerySet[Technician]":
        rows = Technician.objects.working().filter(hourly_rate=0)
        return rows if may_enter(self._member, "rates") else rows.none()

    def unpriced(self) -> "QuerySet[Machine]":
        rows = Machine.objects.in_service().filter(price=None)
        return rows if may_enter(self._member, "prices") else rows.none()


def _tasks() -> list[Task]:
    """Return the tasks of current programs that lack minutes or need a part without a cost."""
    needs = SupplyNeed.objects.filter(task=OuterRef("pk"), part__unit_cost=0)
    tasks = Task.objects.filter(Q(minutes=0) | Exists(needs), version__in=ProgramVersion.objects.current())
    return list(tasks.select_related("version__program").prefetch_related("intervals", "needs", "without"))


def machines_by_task(tasks: Collection[Task]) -> Counter[int]:
    """Return on how many machines in service each of these tasks of current programs falls due, by id."""
    of_type: dict[int, list[ProgramTask]] = defaultdict(list)
    for task in tasks:
        program = task.version.program
        of_type[program.machine_type_id].append(as_program_task(task, program.pk))
    counted: Counter[int] = Counter()
    for machine, fitments, number in _alike(of_type) if of_type else ():
        departures = departures_of(machine)
        for each in of_type[machine.type_id]:
            if each.rule_for(machine, fitments, departures):
                counted[each.pk] += number
    return counted


def _alike(types: Collection[int]) -> Iterator[tuple[Machine, frozenset[int], int]]:
    """Yield one machine for all in service that have the same tasks, its fitments, and how many they are."""
    groups: dict[tuple[int, str, frozenset[int], int | None], list[Machine]] = defaultdict(list)
    rows = Machine.objects.in_service().filter(type__in=types).prefetch_related("fitments", "overrides")
    for machine in rows:
        fitments = frozenset(fitment.pk for fitment in machine.fitments.all())
        alone = machine.pk if machine.overrides.all() else None
        groups[machine.type_id, machine.condition, fitments, alone].append(machine)
    for (_type, _condition, fitments, _alone), machines in groups.items():
        yield machines[0], fitments, len(machines)


def _calls(machines: Mapping[int, int], now: datetime) -> Counter[int]:
    """Return how often each part without a cost is called for, by id; none that nobody calls for."""
    calls: Counter[int] = Counter()
    needs = SupplyNeed.objects.filter(
        part__unit_cost=0, task__version__in=ProgramVersion.objects.current()
    ).values_list("part_id", "task_id")
    for part, task in needs:
        calls[part] += machines.get(task, 0)
    used = PartUsed.objects.filter(part__unit_cost=0).exclude(order__closed_at__lt=now - A_YEAR)
    for part, number in used.values_list("part_id").annotate(number=Count("pk")).order_by():
        calls[part] += number
    return +calls
