"""A log book in CSV or XLSX files, judged and projected without any database.

Readings: `machine,taken_at,hours`. Machines: `machine,type`. Targets: `machine,origin,target_hours`. A moment
is a date or an ISO 8601 time; one without a zone is taken as it stands. Further columns are ignored.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC
from pathlib import Path

import numpy as np

from fleet.core.errors import FleetError
from fleet.core.moment_reader import read_iso
from fleet.imports.rows import read_table
from fleet.usage import history, projector
from fleet.usage.backtest import LogBook, log_book
from fleet.usage.days import date_of, day_of

UNTYPED = ""
TOO_FAR = "not within 3 years"


@dataclass(frozen=True)
class Target:
    """A mark of a machine, seen from a day. origin in days since 1970, hours total."""

    machine: str
    origin: float
    hours: float
    origin_said: str
    hours_said: str


@dataclass
class Files:
    """What the files hold. machine, day, hours: an entry a reading; `wrong`: rows left out, and why."""

    names: list[str]
    kinds: list[str]
    types: np.ndarray
    machine: np.ndarray
    day: np.ndarray
    hours: np.ndarray
    wrong: list[str] = field(default_factory=list)

    def book(self) -> LogBook:
        """The log book, cleaned and in order."""
        return log_book(machine=self.machine, day=self.day, hours=self.hours, types=self.types)


def read(readings: Path, machines: Path | None = None, others: tuple[str, ...] = ()) -> Files:
    """Read a log book; `others` are machines to know besides those with readings.

    Rows that can't be read are left out and told. Raises FleetError when a file can't be read at all.
    """
    wrong: list[str] = []
    types = {name: kind for _, (name, kind) in read_table(machines, ("machine", "type"))} if machines else {}
    rows: list[tuple[str, float, float]] = []
    for line, (name, taken_at, hours) in read_table(readings, ("machine", "taken_at", "hours")):
        try:
            rows.append((_name(name), _day(taken_at), _hours(hours)))
        except ValueError as error:
            wrong.append(f"{readings} line {line}: {error}")
    names = sorted({name for name, _, _ in rows} | set(others))
    number = {name: position for position, name in enumerate(names)}
    kinds = sorted({types.get(name, UNTYPED) for name in names})
    place = {kind: position for position, kind in enumerate(kinds)}
    return Files(
        names,
        kinds,
        np.array([place[types.get(name, UNTYPED)] for name in names], np.int64),
        np.array([number[name] for name, _, _ in rows], np.int64),
        np.array([day for _, day, _ in rows], float),
        np.array([hours for _, _, hours in rows], float),
        wrong,
    )


def read_targets(path: Path) -> tuple[list[Target], list[str]]:
    """Read the targets, and what is wrong with rows left out. Raises FleetError without any target."""
    targets, wrong = [], []
    for line, (name, origin, hours) in read_table(path, ("machine", "origin", "target_hours")):
        try:
            targets.append(Target(_name(name), _day(origin), _hours(hours), origin, hours))
        except ValueError as error:
            wrong.append(f"{path} line {line}: {error}")
    if not targets:
        raise FleetError(f"{path} has no target that can be read.")
    return targets, wrong


def project(
    files: Files, targets: list[Target], *, step: Callable[[int], None] = lambda _: None
) -> np.ndarray:
    """Return early, likely and late in days since 1970, [targets, 3]; inf: not within three years.

    For each target only readings dated on or before its origin are used, of whichever machine. `step` is told
    how many targets are done.
    """
    number = {name: position for position, name in enumerate(files.names)}
    machine = np.array([number[target.machine] for target in targets])
    origins = np.array([target.origin for target in targets])
    wanted = np.array([target.hours for target in targets])
    found = np.empty((len(targets), 3))
    order = np.lexsort((files.day, files.machine))
    of, day, hours = files.machine[order], files.day[order], files.hours[order]
    for origin in np.unique(origins):
        at = np.flatnonzero(origins == origin)
        seen = day < np.floor(origin) + 1  # dated on or before the origin's day
        known = history.clean(machine=of[seen], day=day[seen], hours=hours[seen])
        mine, then, ran = of[seen][known], day[seen][known], hours[seen][known]
        used = projector.learn(
            history.increments(machine=mine, day=then, hours=ran, machines=len(files.names)),
            machine_type=files.types,
            now=origin,
        )
        have, last = np.zeros(len(at)), np.full(len(at), origin)
        if len(mine):
            place = np.searchsorted(mine, machine[at], side="right") - 1
            has = (place >= 0) & (mine[place] == machine[at])
            have, last = np.where(has, ran[place], have), np.where(has, then[place], last)
        ahead = used.crossings(machine=machine[at], remaining=wanted[at] - have, last=last)
        found[at] = origin + np.transpose(ahead)
        step(len(at))
    return found


def as_dates(days: np.ndarray) -> list[list[str]]:
    """Early, likely and late as ISO dates, or that they are too far off; [targets, 3] days since 1970.

    Likely is the day by whose end the mark is as likely reached as not; early and late are the first and the
    last whole day between the 10 and the 90 % quantile, so that rounding doesn't widen the interval.
    """
    early, likely, late = np.ceil(days[:, 0]), np.ceil(days[:, 1]), np.floor(days[:, 2])
    whole = np.stack([np.minimum(early, likely), likely, np.maximum(late, likely)], 1)
    return [[_said(day) for day in row] for row in whole]


def _said(day: float) -> str:
    on = date_of(day) if np.isfinite(day) else None
    return TOO_FAR if on is None else on.isoformat()


def _name(text: str) -> str:
    if not text:
        raise ValueError("no machine is named")
    return text


def _day(text: str) -> float:
    moment = read_iso(text)
    if moment is None:
        raise ValueError(f"{text!r} is not a date; write it like 2026-05-03")
    try:
        return day_of(moment.astimezone(UTC) if moment.tzinfo else moment.replace(tzinfo=UTC))
    except OverflowError:
        raise ValueError(f"{text!r} is too far off") from None


def _hours(text: str) -> float:
    try:
        hours = float(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a number of hours; write it like 1204.5") from None
    if not np.isfinite(hours) or hours < 0:
        raise ValueError(f"{text!r} can't be a number of hours")
    return hours
