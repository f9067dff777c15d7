"""How a machine is used: hours a day, how sure that is, and how much of it was borrowed from its kin.

The model, in the square root of the rate (hours a day), where the chance of a day and the swings of a
season are about equally wide for a machine that runs one hour a day and one that runs six:

* Hours come in lumps (a trip, a job, a working day). With lumps of ``c`` hours, n days at rate r have
  variance c r n, and the root of the measured rate has variance c / 4n.
* A machine has a settled level. Levels are not one bell curve: machines of a type fall into a few habits.
  How often each level occurs among the kin is learned without assuming a shape (a discrete mixture on a
  grid, fitted by EM: Laird 1978; Jiang and Zhang 2009), first for the type, which leans on the
  organisation, which leans on a guess at what organisations are like (``levels``). The machine's own readings
  pick its place among those levels; a machine is left out of what is learned for itself.
* One whose hours came in larger lumps than its kin's has lain idle in between, and idle spells end: its level
  is raised a little (a lump twice as large: by a tenth).
* Around the level use swings and comes back. The last weeks tell the present swing, of which only a part
  is kept, and that part fades over the days ahead.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from . import levels
from .habits import HABITS, Habits
from .history import Increments
from .levels import GRID

__all__ = ["GRID", "HABITS", "Habits", "Pace", "estimate", "fade_over", "usual_levels"]


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
    firm, kind, firm_of_kind = _kinship(machine_type, organisation, increments.machines)
    seen = _seen(increments, as_of, kind, firm, firm_of_kind, teaches, habits)
    n, has, lump, teacher = increments.machines, seen.has, seen.lump, seen.teacher
    posterior = levels.place(seen.level, seen.blur, has, teacher, kind, firm_of_kind, habits)
    spread = np.maximum(posterior @ GRID**2 - (posterior @ GRID) ** 2, 0.0)
    settled = np.sqrt(posterior @ GRID**2)  # the mean of the rate, not of its root
    settled *= _larger_than_kin(lump, has, teacher, kind) ** (0.5 * habits.spell)

    recent_days, recent_hours = seen.measured(habits.recent_half_life)
    noise = lump / (4 * np.maximum(recent_days, 1e-3))
    kept = np.where(has, habits.swing_kept * habits.swing**2 / (habits.swing**2 + noise), 0.0)
    swing = np.where(has, kept * (_root_rate(recent_hours, recent_days, lump) - settled), 0.0)
    swing = np.maximum(swing, -0.85 * settled)

    fade = fade_over(30.0 / habits.swing_days)
    settled_variance = spread + habits.level_floor**2
    variance = settled_variance * (1 - kept * fade) ** 2
    variance += habits.swing_unseen * habits.swing**2 * (1 - kept * fade**2)
    mean = settled**2 + fade * ((settled + swing) ** 2 - settled**2)
    ran = seen.hours > 0
    ran_days, ran_hours = seen.measured(habits.settled_half_life, ran)
    own_share = np.clip(spread / (seen.blur + habits.habit_width**2), 0.0, 1.0)  # d settled / d level
    counts = np.bincount(kind, weights=teacher, minlength=len(firm_of_kind))[kind] - teacher
    last = np.full(n, np.nan)
    last[seen.own] = seen.end  # ascending within a machine, so the latest stays
    return Pace(
        mean=mean,
        variance=4 * mean * variance,
        lump=lump,
        working=np.where(ran_days > 0, ran_hours / np.where(ran_days > 0, ran_days, 1.0), mean),
        borrowed=np.where(has, (1 - kept) * (1 - own_share), 1.0),
        kin=counts.astype(np.int64),
        last=last,
        settled=settled,
        settled_variance=settled_variance,
        swing=swing,
        swing_kept=kept,
        habits=habits,
    )


def usual_levels(increments: Increments, *, days: ArrayLike, habits: Habits = HABITS) -> tuple[int, ...]:
    """How many in 10,000 machines settle at each level of GRID, a mean over ``days``: ``Habits.usual``.

    Raises ValueError without a day.
    """
    one = np.zeros(increments.machines, np.int64)
    often = np.zeros(len(GRID))
    if np.size(days) == 0:
        raise ValueError("levels are learned as of one day or more")
    for day in np.atleast_1d(np.asarray(days, float)):
        seen = _seen(increments, day, one, one, one[:1], None, habits)
        often += levels.common(seen.level[seen.has], seen.blur[seen.has], habits)
    return tuple(int(each) for each in np.round(10_000 * often / often.sum()))


class _Seen(NamedTuple):
    """What was measured up to a day: own to age by increment (ages in days), the rest by machine."""

    own: np.ndarray
    end: np.ndarray
    hours: np.ndarray
    days: np.ndarray
    age: np.ndarray
    has: np.ndarray
    teacher: np.ndarray
    lump: np.ndarray
    level: np.ndarray
    blur: np.ndarray

    def measured(self, half_life: float, of: ArrayLike = True) -> tuple[np.ndarray, np.ndarray]:
        """Discounted days and hours of each machine, over the increments where ``of`` is True."""
        return _discounted(self.own, self.hours, self.days, self.age, half_life, len(self.has), of)


def _discounted(
    own: np.ndarray,
    hours: np.ndarray,
    days: np.ndarray,
    age: np.ndarray,
    half_life: float,
    machines: int,
    of: ArrayLike = True,
) -> tuple[np.ndarray, np.ndarray]:
    weight = np.exp2(-age / half_life) * of
    return (
        np.bincount(own, weights=weight * days, minlength=machines),
        np.bincount(own, weights=weight * hours, minlength=machines),
    )


def _seen(
    increments: Increments,
    as_of: ArrayLike,
    kind: np.ndarray,
    firm: np.ndarray,
    firm_of_kind: np.ndarray,
    teaches: ArrayLike | None,
    habits: Habits,
) -> _Seen:
    n = increments.machines
    as_of = np.broadcast_to(np.asarray(as_of, float), (n,))
    past = increments.end <= as_of[increments.machine]
    own = increments.machine[past]
    end, hours, days = increments.end[past], increments.hours[past], increments.days[past]
    age = as_of[own] - end + 0.5 * days
    settled_days, settled_hours = _discounted(own, hours, days, age, habits.settled_half_life, n)
    rate = settled_hours / np.maximum(settled_days, 1e-9)
    teacher = np.ones(n, bool) if teaches is None else np.asarray(teaches, bool)
    lump = _lumps(own, hours, days, age, rate, kind, firm, firm_of_kind, teacher, habits)
    has = settled_days > 0
    level = _root_rate(settled_hours, settled_days, lump)
    blur = lump / (4 * np.maximum(settled_days, 1e-3))
    blur += habits.swing**2 / (1 + settled_days / (2 * habits.swing_days))
    return _Seen(own, end, hours, days, age, has, teacher & has, lump, level, blur)


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
