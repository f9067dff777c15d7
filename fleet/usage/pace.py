"""How a machine is used: hours a day lately, how sure that is, and how much was borrowed from its kin."""

from dataclasses import dataclass

import numpy as np

from .history import Increments

HALF_LIFE = 60.0  # days after which a day's weight in the pace has halved
KIN_DAYS = 20.0  # how many days of a machine's own history its kin weigh
WIDE_RATE = 2.0  # hours a day where nothing at all is known
WIDE_SPREAD = 1.0  # log standard deviation of that


@dataclass(frozen=True, slots=True)
class Pace:
    """Arrays, one entry per machine.

    mean          expected hours a day over the days ahead
    variance      of that mean, (h/day)^2: how unsure the rate itself is
    dispersion    of a day around the rate, h^2/day: the variance that a day adds
    drift         relative variance of the rate gained per day ahead, 1/day
    working       hours of a day on which it ran
    borrowed      share of the weight that came from kin or the prior, 0..1
    kin           machines of its type (and organisation) that lent it, itself not counted
    last          day of the last counted reading, NaN without one
    """

    mean: np.ndarray
    variance: np.ndarray
    dispersion: np.ndarray
    drift: np.ndarray
    working: np.ndarray
    borrowed: np.ndarray
    kin: np.ndarray
    last: np.ndarray

    def __len__(self) -> int:
        return len(self.mean)


def estimate(increments: Increments, *, machine_type, as_of, organisation=None) -> Pace:
    """Learn the pace of every machine from increments that ended on or before ``as_of``.

    machine_type: int array [machines]; organisation: the same, optional (one organisation).
    as_of: day, a number or an array [machines].
    """
    n = increments.machines
    as_of = np.broadcast_to(np.asarray(as_of, float), (n,))
    kind = _groups(machine_type, organisation, n)
    firm = np.zeros(n, np.int64) if organisation is None else _numbered(organisation)

    seen = increments.end <= as_of[increments.machine]
    machine, start, end = increments.machine[seen], increments.start[seen], increments.end[seen]
    hours = increments.hours[seen]
    days = end - start
    weight = np.exp2((0.5 * (start + end) - as_of[machine]) / HALF_LIFE)

    def total(values, by=machine, size=n):
        return np.bincount(by, weights=values, minlength=size)

    exposure, run = total(weight * days), total(weight * hours)
    firms, kinds = firm.max(initial=0) + 1, kind.max(initial=0) + 1
    firm_rate = (total(run, firm, firms) + WIDE_RATE * KIN_DAYS) / (total(exposure, firm, firms) + KIN_DAYS)
    of_kind = np.zeros(kinds, np.int64)
    of_kind[kind] = firm
    kind_rate = (total(run, kind, kinds) + firm_rate[of_kind] * KIN_DAYS) / (total(exposure, kind, kinds) + KIN_DAYS)
    mean = (run + KIN_DAYS * kind_rate[kind]) / (exposure + KIN_DAYS)

    miss = total(weight * (hours - mean[machine] * days) ** 2 / np.maximum(days, 0.5) * days)
    kind_chance = (total(miss, kind, kinds) + 3.0 * KIN_DAYS * kind_rate**2) / (
        total(exposure * mean**2, kind, kinds) + KIN_DAYS * kind_rate**2
    )
    dispersion = (miss + KIN_DAYS * kind_chance[kind] * mean**2) / (exposure + KIN_DAYS)
    relative = dispersion / mean**2 / (exposure + KIN_DAYS) + 0.04
    lonely = exposure + total(exposure, kind, kinds)[kind]
    relative = relative + WIDE_SPREAD**2 / (1.0 + lonely / 30.0)
    last = np.full(n, np.nan)
    last[machine] = end  # ascending within a machine, so the latest stays
    ran = hours > 0
    working = np.divide(total(hours[ran], machine[ran]), total(days[ran], machine[ran]), out=mean.copy(), where=total(ran * 1.0) > 0)
    members = np.bincount(kind, weights=exposure > 0, minlength=kinds)[kind]
    return Pace(
        mean=mean,
        variance=relative * mean**2,
        dispersion=dispersion,
        drift=np.full(n, 0.0005),
        working=working,
        borrowed=KIN_DAYS / (exposure + KIN_DAYS),
        kin=(members - (exposure > 0)).astype(np.int64),
        last=last,
    )


def _numbered(labels):
    return np.unique(np.asarray(labels), return_inverse=True)[1].reshape(-1)


def _groups(machine_type, organisation, n):
    kind = _numbered(np.broadcast_to(np.asarray(machine_type), (n,)))
    if organisation is None or n == 0:
        return kind
    firm = _numbered(organisation)
    return _numbered(firm * (kind.max() + 1) + kind)
