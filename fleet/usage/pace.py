"""How a machine is used: hours a day, how sure that is, and how much of it was borrowed from its kin.

The model, in the square root of the rate (hours a day), where the chance of a day and the swings of a
season are about equally wide for a machine that runs one hour a day and one that runs six:

* Hours come in lumps (a trip, a job, a working day). With lumps of ``c`` hours, n days at rate r have
  variance c r n, and the root of the measured rate has variance c / 4n.
* A machine has a settled level. Levels are not one bell curve: machines of a type fall into a few habits.
  How often each level occurs among the kin is learned without assuming a shape (a discrete mixture on a
  grid, fitted by EM: Laird 1978; Jiang and Zhang 2009), first for the type, which leans on the
  organisation, which leans on a wide prior. The machine's own readings pick its place among those
  levels; a machine is left out of what is learned for itself.
* One whose hours came in larger lumps than its kin's has lain idle in between, and idle spells end: its level
  is raised a little (a lump twice as large: by a tenth).
* Around the level use swings and comes back. The last weeks tell the present swing, of which only a part
  is kept, and that part fades over the days ahead.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .history import Increments

GRID = np.linspace(0.05, 4.9, 50)  # root of hours a day; 4.9^2 is 24 h


class Habits(NamedTuple):
    """The constants of the model. Days are days; roots are of hours a day."""

    recent_half_life: float = 20.0  # memory of the present swing, days
    settled_half_life: float = 50.0  # memory of the settled level, days
    lump_half_life: float = 75.0  # memory of the lumps, days
    lump_share: float = 0.75  # of the measured lumps, what is chance rather than swing
    lump_kin: float = 100.0  # hours of its own that a machine's lumps are weighed against
    swing: float = 0.16  # standard deviation of the swing, root
    swing_days: float = 30.0  # days over which a swing fades to 1/e
    swing_kept: float = 0.5  # share of a perfectly seen swing that is carried forward
    swing_unseen: float = 0.4  # share of the swing's variance that lies ahead
    habit_width: float = 0.1  # spread of machines around a common level, root
    level_floor: float = 0.07  # spread of a level that is perfectly known, root
    kind_weight: float = 8.0  # machines that the organisation counts for, beside those of the type
    spell: float = 0.15  # power of own lumps over the kin's by which the level is raised
    wide_weight: float = 10.0  # machines that the wide prior counts for, beside the organisation's
    wide_mean: float = 1.4  # wide prior: root of about 2 hours a day
    wide_spread: float = 0.8
    wide_lump: float = 4.0  # hours
    rounds: int = 25  # of EM: fewer leave the levels blurred, many more overfit


HABITS = Habits()


@dataclass(frozen=True, slots=True)
class Pace:
    """Arrays, one entry per machine.

    mean            expected hours a day over the next 30 days
    variance        of that mean, (h/day)^2: how unsure the rate itself is
    lump            hours per lump of use: n days at rate r have variance lump * r * n
    working         hours a day over the increments in which it ran at all, discounted as the level is
    borrowed        share of the weight that came from kin or the prior, 0..1
    kin             other machines of its type (and organisation) with readings
    last            day of the last counted reading, NaN without an increment
    settled         level it comes back to, root of hours a day
    settled_variance
    swing           how far it is off that level now, as far as carried forward, root
    swing_kept      share 0..1 of the swing measured that is carried forward
    habits          the constants used
    """

    mean: np.ndarray
    variance: np.ndarray
    lump: np.ndarray
    working: np.ndarray
    borrowed: np.ndarray
    kin: np.ndarray
    last: np.ndarray
    settled: np.ndarray
    settled_variance: np.ndarray
    swing: np.ndarray
    swing_kept: np.ndarray
    habits: Habits = HABITS

    def __len__(self) -> int:
        return len(self.mean)

    @property
    def dispersion(self) -> np.ndarray:
        """Variance that one day adds, h^2/day."""
        return np.asarray(self.lump * self.mean)


def estimate(
    increments: Increments,
    *,
    machine_type: ArrayLike,
    as_of: ArrayLike,
    organisation: ArrayLike | None = None,
    teaches: ArrayLike | None = None,
    habits: Habits = HABITS,
) -> Pace:
    """Learn the pace of every machine from the increments that ended on or before ``as_of``.

    machine_type: int array [machines] (one number is allowed); organisation: the same, optional.
    as_of: day, a number or an array [machines]. Kin are machines of the same type and organisation; of them
    those teach that are True in ``teaches`` (bool array [machines], all when left out), so that what is said
    of a machine doesn't depend on which others are asked about beside it.
    """
    n = increments.machines
    as_of = np.broadcast_to(np.asarray(as_of, float), (n,))
    firm, kind, firm_of_kind = _kinship(machine_type, organisation, n)
    seen = increments.end <= as_of[increments.machine]
    own = increments.machine[seen]
    end, hours, days = increments.end[seen], increments.hours[seen], increments.days[seen]
    age = as_of[own] - end + 0.5 * days

    def total(values: np.ndarray) -> np.ndarray:
        return np.bincount(own, weights=values, minlength=n)

    def measured(half_life: float) -> tuple[np.ndarray, np.ndarray]:
        weight = np.exp2(-age / half_life)
        return total(weight * days), total(weight * hours)

    settled_days, settled_hours = measured(habits.settled_half_life)
    recent_days, recent_hours = measured(habits.recent_half_life)
    rate = settled_hours / np.maximum(settled_days, 1e-9)
    teacher = np.ones(n, bool) if teaches is None else np.asarray(teaches, bool)
    lump = _lumps(own, hours, days, age, rate, kind, firm, firm_of_kind, teacher, habits)

    has = settled_days > 0
    teacher = teacher & has
    level = _root_rate(settled_hours, settled_days, lump)
    blur = lump / (4 * np.maximum(settled_days, 1e-3))
    blur += habits.swing**2 / (1 + settled_days / (2 * habits.swing_days))
    posterior = _place(level, blur, has, teacher, kind, firm_of_kind, habits)
    spread = np.maximum(posterior @ GRID**2 - (posterior @ GRID) ** 2, 0.0)
    settled = np.sqrt(posterior @ GRID**2)  # the mean of the rate, not of its root
    settled *= _larger_than_kin(lump, has, teacher, kind) ** (0.5 * habits.spell)

    noise = lump / (4 * np.maximum(recent_days, 1e-3))
    kept = np.where(has, habits.swing_kept * habits.swing**2 / (habits.swing**2 + noise), 0.0)
    swing = np.where(has, kept * (_root_rate(recent_hours, recent_days, lump) - settled), 0.0)
    swing = np.maximum(swing, -0.85 * settled)

    fade = fade_over(30.0 / habits.swing_days)
    settled_variance = spread + habits.level_floor**2
    variance = settled_variance * (1 - kept * fade) ** 2
    variance += habits.swing_unseen * habits.swing**2 * (1 - kept * fade**2)
    mean = settled**2 + fade * ((settled + swing) ** 2 - settled**2)
    lately = np.exp2(-age / habits.settled_half_life) * (hours > 0)
    ran_days = total(lately * days)
    own_share = np.clip(spread / (blur + habits.habit_width**2), 0.0, 1.0)  # d settled / d level measured
    counts = np.bincount(kind, weights=teacher, minlength=len(firm_of_kind))[kind] - teacher
    last = np.full(n, np.nan)
    last[own] = end  # ascending within a machine, so the latest stays
    return Pace(
        mean=mean,
        variance=4 * mean * variance,
        lump=lump,
        working=np.where(ran_days > 0, total(lately * hours) / np.where(ran_days > 0, ran_days, 1.0), mean),
        borrowed=np.where(has, (1 - kept) * (1 - own_share), 1.0),
        kin=counts.astype(np.int64),
        last=last,
        settled=settled,
        settled_variance=settled_variance,
        swing=swing,
        swing_kept=kept,
        habits=habits,
    )


def fade_over(x: ArrayLike) -> np.ndarray:
    """Mean of exp(-t) over 0..x: what is left of a swing, averaged over the days ahead."""
    span = np.maximum(np.asarray(x, float), 1e-9)
    return np.asarray(-np.expm1(-span) / span)


def _root_rate(hours: np.ndarray, days: np.ndarray, lump: np.ndarray) -> np.ndarray:
    """Root of the rate, with the quarter lump that keeps its variance steady down to no hours at all."""
    return np.sqrt((hours + 0.25 * lump) / (days + 0.0625 * lump))


def _lumps(
    own: np.ndarray,
    hours: np.ndarray,
    days: np.ndarray,
    age: np.ndarray,
    rate: np.ndarray,
    kind: np.ndarray,
    firm: np.ndarray,
    firm_of_kind: np.ndarray,
    teacher: np.ndarray,
    habits: Habits,
) -> np.ndarray:
    """Hours per lump: variance of what was run over its mean, shrunk to kind and organisation."""
    n, weight = len(rate), np.exp2(-age / habits.lump_half_life)
    miss = np.bincount(own, weights=weight * (hours - rate[own] * days) ** 2, minlength=n)
    run = np.bincount(own, weights=weight * rate[own] * days, minlength=n)

    def pooled(miss: np.ndarray, run: np.ndarray, prior: np.ndarray | float, count: float) -> np.ndarray:
        return (miss + prior * count) / (run + count)

    taught_miss, taught_run = miss * teacher, run * teacher
    of_firm = pooled(_sums(taught_miss, firm), _sums(taught_run, firm), habits.wide_lump, habits.lump_kin)
    of_kind = pooled(
        _sums(taught_miss, kind), _sums(taught_run, kind), of_firm[firm_of_kind], 5 * habits.lump_kin
    )
    return habits.lump_share * pooled(miss, run, of_kind[kind], habits.lump_kin)


def _larger_than_kin(lump: np.ndarray, has: np.ndarray, teacher: np.ndarray, kind: np.ndarray) -> np.ndarray:
    """Each machine's lumps over the mean of those that teach its kind, 1/3 to 3; 1 if nothing is known."""
    members = np.bincount(kind, weights=teacher)
    mean = np.bincount(kind, weights=teacher * lump) / np.maximum(members, 1.0)
    return np.where(has, np.clip(lump / np.where(mean > 0, mean, 1.0)[kind], 1 / 3, 3.0), 1.0)


def _sums(values: np.ndarray, group: np.ndarray) -> np.ndarray:
    return np.bincount(group, weights=values, minlength=int(group.max(initial=-1)) + 1)


def _place(
    level: np.ndarray,
    blur: np.ndarray,
    has: np.ndarray,
    teacher: np.ndarray,
    kind: np.ndarray,
    firm_of_kind: np.ndarray,
    habits: Habits,
) -> np.ndarray:
    """Posterior of each machine's settled level on GRID, [machines, grid], itself left out of its kin."""
    wide = np.exp(-0.5 * ((GRID - habits.wide_mean) / habits.wide_spread) ** 2)
    wide /= wide.sum()
    if len(level) == 0:
        return np.zeros((0, len(GRID)))
    likelihood = np.exp(-0.5 * (level[:, None] - GRID) ** 2 / (blur + habits.habit_width**2)[:, None]) + 1e-10
    order = np.argsort(kind, kind="stable")
    rows = order[teacher[order]]
    fitted, of = likelihood[rows], kind[rows]
    kinds, firms = len(firm_of_kind), int(firm_of_kind.max()) + 1
    prior = np.tile(wide, (kinds, 1))
    count = np.zeros((kinds, len(GRID)))
    of_firm = np.zeros((firms, len(GRID)))
    starts = np.flatnonzero(np.diff(of, prepend=-1))
    for _ in range(habits.rounds if len(rows) else 0):
        share = fitted * prior[of]
        share /= share.sum(1, keepdims=True)
        count[of[starts]] = np.add.reduceat(share, starts, axis=0)
        of_firm = np.add.reduceat(count, np.flatnonzero(np.diff(firm_of_kind, prepend=-1)), axis=0)
        prior = _mixed(count, of_firm[firm_of_kind], wide, habits)
        prior /= prior.sum(1, keepdims=True)
    own = np.zeros_like(likelihood)
    if len(rows):
        own[rows] = share
    posterior = _mixed(count[kind] - own, of_firm[firm_of_kind[kind]] - own, wide, habits)
    posterior *= np.where(has[:, None], likelihood, 1.0)
    return np.asarray(posterior / posterior.sum(1, keepdims=True))


def _mixed(of_kind: np.ndarray, of_firm: np.ndarray, wide: np.ndarray, habits: Habits) -> np.ndarray:
    """How often each level occurs: among the kind, helped by the organisation, helped by the wide prior."""
    of_kind, of_firm = np.maximum(of_kind, 0.0), np.maximum(of_firm, 0.0)
    behind = (of_firm + habits.wide_weight * wide) / (of_firm.sum(1, keepdims=True) + habits.wide_weight)
    return np.asarray(of_kind + habits.kind_weight * behind)


def _kinship(
    machine_type: ArrayLike, organisation: ArrayLike | None, n: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Number organisations and the kinds within them: firm [n], kind [n], firm of each kind (ascending)."""
    kind = np.broadcast_to(np.asarray(machine_type), (n,))
    firm = np.zeros(n, np.int64) if organisation is None else np.asarray(organisation)
    if n == 0:
        return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0, np.int64)
    firm = np.unique(firm, return_inverse=True)[1].reshape(-1)
    kind = np.unique(kind, return_inverse=True)[1].reshape(-1)
    labels, kind = np.unique(firm * (int(kind.max()) + 1) + kind, return_inverse=True)
    kind = kind.reshape(-1)
    firm_of_kind = np.zeros(len(labels), np.int64)
    firm_of_kind[kind] = firm
    return firm, kind, firm_of_kind
