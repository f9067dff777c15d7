"""One job out of many tasks: one order of work, one list of tools, one list of supplies.

The order of work is a plain rule, good enough to follow and easy to explain:

1. Work on a warm engine first, while it is warm; then what may be done at any time; work on a cold engine
   last.
2. Tasks behind the same cover are done one after the other, so that it is opened once. One that may be done
   warm or cold joins the warm or cold task behind its cover. A cover is opened twice only where one task
   behind it needs the engine warm and another needs it cold.
3. Otherwise go round the machine in the order of `round`, starting where the warm work ended.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

WARM, ANY, COLD = "warm", "any", "cold"
TORQUE_WRENCH = "torque wrench"


@dataclass(frozen=True)
class Job:
    """One line as far as its place in the order of work goes."""

    id: int
    engine: str = ANY
    place: str = ""
    opens: tuple[str, ...] = ()


@dataclass(frozen=True)
class Stop:
    """A job in its place: the covers to open before it and to close after it."""

    job: Job
    opens: tuple[str, ...]
    closes: tuple[str, ...]


@dataclass(frozen=True)
class Tool:
    """A tool with all the sizes wanted of it."""

    name: str
    sizes: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.name} {_sizes_said(self.sizes)}".strip()


@dataclass(frozen=True)
class Supply:
    """A part or fluid that some task needs. `quantity` and `in_stock` in `unit`."""

    part: int
    name: str
    number: str
    grade: str
    unit: str
    quantity: Decimal
    in_stock: Decimal

    @property
    def short(self) -> Decimal:
        """How much is missing from stock; nought if enough is there."""
        return max(self.quantity - max(self.in_stock, Decimal(0)), Decimal(0))


@dataclass
class _Cluster:
    """Jobs that are done without a break because they share covers."""

    jobs: list[Job] = field(default_factory=list)
    covers: set[str] = field(default_factory=set)


def order_of_work(jobs: Iterable[Job], walk: Sequence[str]) -> list[Stop]:
    """Return the jobs in the order they are best done, with the covers to open before and close after each.

    `walk`: the places in the order in which one goes round the machine.
    """
    rows = list(jobs)
    phases = _phases(rows)
    rounds: list[list[Job]] = []
    start = 0
    for phase in (WARM, ANY, COLD):
        rounds.append(_round([row for row in rows if phases[row.id] == phase], walk, start))
        if phase == WARM and rounds[0] and rounds[0][-1].place in walk:
            start = walk.index(rounds[0][-1].place)
    return _with_covers([jobs for jobs in rounds if jobs])


def merge_texts(texts: Iterable[str]) -> list[str]:
    """Return each sentence once, in the order it first comes up, whatever its capitals and full stop."""
    seen: dict[str, str] = {}
    for text in texts:
        seen.setdefault(text.strip().rstrip(".").casefold(), text.strip())
    return [text for key, text in seen.items() if key]


def merge_tools(needs: Iterable[tuple[str, str]], torques: Iterable[tuple[Decimal, str]] = ()) -> list[Tool]:
    """Return each tool once with its sizes in rising order.

    `needs`: pairs of tool and size. `torques`: what is to be tightened, as (N·m to compare by, value as
    written). One torque wrench is asked for, which reaches the highest of them and of the sizes named.
    """
    sizes: dict[str, set[str]] = {}
    names: dict[str, str] = {}
    reach: list[tuple[Decimal, str]] = list(torques)
    for tool, size in needs:
        key = tool.strip().casefold()
        names.setdefault(key, tool.strip())
        if key == TORQUE_WRENCH and (capacity := _capacity(size)):
            reach.append(capacity)
            sizes.setdefault(key, set())
        else:
            sizes.setdefault(key, set()).update({size.strip()} - {""})
    if reach:
        names.setdefault(TORQUE_WRENCH, TORQUE_WRENCH)
        sizes.setdefault(TORQUE_WRENCH, set()).add(f"up to {max(reach)[1]}")
    return [Tool(names[key], tuple(sorted(sizes[key], key=_by_number))) for key in sorted(names)]


def merge_supplies(needs: Iterable[Supply]) -> list[Supply]:
    """Return each part once, with the quantities of all tasks added up."""
    merged: dict[int, Supply] = {}
    for need in needs:
        sofar = merged[need.part].quantity if need.part in merged else Decimal(0)
        merged[need.part] = Supply(
            need.part, need.name, need.number, need.grade, need.unit, sofar + need.quantity, need.in_stock
        )
    return sorted(merged.values(), key=lambda supply: (supply.name.casefold(), supply.number))


def _phases(jobs: Sequence[Job]) -> dict[int, str]:
    """Return the phase of each job: its own or, where any will do, that of the others behind its cover."""
    phases = {job.id: job.engine for job in jobs}
    for phase in (WARM, COLD):
        covers = {cover for job in jobs if job.engine == phase for cover in job.opens}
        moved = True
        while moved:
            moved = False
            for job in jobs:
                if phases[job.id] == ANY and covers & set(job.opens):
                    phases[job.id] = phase
                    covers |= set(job.opens)
                    moved = True
    return phases


def _round(jobs: Sequence[Job], walk: Sequence[str], start: int) -> list[Job]:
    """Return jobs in walking order from the place at `start`, those that share a cover kept together."""

    def step(job: Job) -> int:
        return (walk.index(job.place) - start) % len(walk) if job.place in walk else len(walk)

    clusters: list[_Cluster] = []
    for job in sorted(jobs, key=step):
        home = _Cluster([job], set(job.opens))
        for cluster in [cluster for cluster in clusters if cluster.covers & set(job.opens)]:
            clusters.remove(cluster)
            home.jobs += cluster.jobs
            home.covers |= cluster.covers
        clusters.append(home)
    for cluster in clusters:
        cluster.jobs.sort(key=step)
    clusters.sort(key=lambda cluster: step(cluster.jobs[0]))
    return [job for cluster in clusters for job in cluster.jobs]


def _with_covers(rounds: Sequence[Sequence[Job]]) -> list[Stop]:
    """Open a cover before the first job of a round that needs it and close it after the last, or leave it
    open where the next round begins behind it."""
    stops = []
    is_open: set[str] = set()
    for number, jobs in enumerate(rounds):
        after = set(rounds[number + 1][0].opens) if number + 1 < len(rounds) else set()
        for index, job in enumerate(jobs):
            later = after.union(*(other.opens for other in jobs[index + 1 :]))
            opens = tuple(cover for cover in job.opens if cover not in is_open)
            is_open |= set(job.opens)
            closes = tuple(sorted(is_open - later))
            is_open &= later
            stops.append(Stop(job, opens, closes))
    return stops


def _capacity(size: str) -> tuple[Decimal, str] | None:
    found = re.search(r"(\d+(?:\.\d+)?)\s*(N·m|Nm|lbf·ft|lbf·in)\s*$", size)
    if found is None:
        return None
    value, unit = Decimal(found[1]), found[2]
    newton_metres = {"lbf·ft": Decimal("1.3558179483314004"), "lbf·in": Decimal("0.1129848290276167")}
    return value * newton_metres.get(unit, Decimal(1)), f"{found[1]} {unit}"


def _by_number(size: str) -> tuple[str, float, str]:
    found = re.match(r"(\d+)/(\d+)|(\d+(?:\.\d+)?)", size)
    if found is None:
        return ("", 0.0, size)
    amount = int(found[1]) / int(found[2]) if found[1] else float(found[3])
    return (size[found.end() :].strip(), amount, size)


def _sizes_said(sizes: Sequence[str]) -> str:
    """Return "12, 14 mm" for 12 mm and 14 mm; sizes with different units stay apart: "1/2 in; 12 mm"."""
    by_unit: dict[str, list[str]] = {}
    for size in sizes:
        found = re.fullmatch(r"(\d+(?:[./]\d+)?)\s+(\D+)", size)
        amount, unit = (found[1], found[2]) if found else (size, "")
        by_unit.setdefault(unit, []).append(amount)
    return "; ".join(f"{', '.join(amounts)} {unit}".strip() for unit, amounts in by_unit.items())
