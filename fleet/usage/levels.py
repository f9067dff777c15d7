"""Where machines settle: how often each level occurs among kin, and each machine's place among the levels.

Levels are roots of hours a day, on GRID. What is said of a type leans on its organisation, and that on a
guess at an organisation nobody knows yet: a mixture of 13 (``guesses``), weighed by how well each fits what
the organisation's machines have shown. So a farm of five whose machines run like those of the shared set is
known early, one whose machines run otherwise leaves those levels behind, and in a large fleet the guess
weighs next to nothing.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .habits import Habits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

GRID = np.linspace(0.05, 4.9, 50)  # root of hours a day; 4.9^2 is 24 h
FACTORS = np.exp(np.linspace(-1.0, 1.0, 11))  # of the root: a seventh of the usual hours to seven times them
BEHIND = 10.0  # machines that the wide prior counts for where the usual levels are learned


def place(
    level: Floats, blur: Floats, has: Bools, teacher: Bools, kind: Ints, firm_of_kind: Ints, habits: Habits
) -> Floats:
    """Posterior of each machine's settled level on GRID, [machines, grid], itself left out of its kin.

    level, blur: root of the measured rate and its variance, [machines]; has: whether anything was measured;
    teacher: whether its kin learn from it; kind: number of its type within its organisation, ascending with
    the organisation's number, which firm_of_kind holds.
    """
    if len(level) == 0:
        return np.zeros((0, len(GRID)))
    likelihood = _likelihood(level, blur, habits)
    firm = firm_of_kind[kind]
    guess, guess_without = _guessed(likelihood, teacher, firm, habits)
    order = np.argsort(kind, kind="stable")
    rows = order[teacher[order]]
    fitted, of = likelihood[rows], kind[rows]
    kinds, firms = len(firm_of_kind), int(firm_of_kind.max()) + 1
    prior = guess[firm_of_kind]
    count = np.zeros((kinds, len(GRID)))
    of_firm = np.zeros((firms, len(GRID)))
    starts = np.flatnonzero(np.diff(of, prepend=-1))
    for _ in range(habits.rounds if len(rows) else 0):
        share = fitted * prior[of]
        share /= share.sum(1, keepdims=True)
        count[of[starts]] = np.add.reduceat(share, starts, axis=0)
        of_firm = np.add.reduceat(count, np.flatnonzero(np.diff(firm_of_kind, prepend=-1)), axis=0)
        prior = _mixed(count, of_firm[firm_of_kind], guess[firm_of_kind], habits)
        prior /= prior.sum(1, keepdims=True)
    own = np.zeros_like(likelihood)
    if len(rows):
        own[rows] = share
    posterior = _mixed(count[kind] - own, of_firm[firm] - own, guess_without, habits)
    posterior *= np.where(has[:, None], likelihood, 1.0)
    return np.asarray(posterior / posterior.sum(1, keepdims=True))


def common(level: Floats, blur: Floats, habits: Habits) -> Floats:
    """How often each level occurs among all these machines, [grid], by EM; for ``Habits.usual``."""
    wide = _wide(habits)
    often = wide
    likelihood = _likelihood(level, blur, habits)
    for _ in range(habits.rounds):
        share = likelihood * often
        often = (share / share.sum(1, keepdims=True)).sum(0) + BEHIND * wide
        often /= often.sum()
    return np.asarray(often)


@lru_cache(maxsize=32)
def guesses(habits: Habits) -> tuple[Floats, Floats]:
    """What an unknown organisation's levels may be like, [guesses, grid], and the chance of each.

    The usual levels; the same at another pace (FACTORS); the wide prior. The first two leave a share of
    strays to the wide prior, so that one odd machine doesn't speak for the others.
    """
    wide = _wide(habits)
    usual = np.zeros(len(GRID))
    usual[: len(habits.usual)] = habits.usual
    paced = np.exp(-0.5 * (np.log(FACTORS) / habits.paced_spread) ** 2)
    like = [usual / usual.sum(), *(_stretched(usual, factor) for factor in FACTORS)]
    each = (1 - habits.strays) * np.array(like) + habits.strays * wide
    chance = np.concatenate([
        [habits.usual_chance],
        habits.paced_chance * paced / paced.sum(),
        [1 - habits.usual_chance - habits.paced_chance],
    ])  # fmt: skip
    return np.vstack([each, wide]), chance


def _guessed(likelihood: Floats, teacher: Bools, firm: Ints, habits: Habits) -> tuple[Floats, Floats]:
    """The guesses weighed by what organisations show, [firms, grid]; without a machine, [machines, grid]."""
    each, chance = guesses(habits)
    fits = np.log(likelihood @ each.T) * teacher[:, None]
    together: Floats = np.zeros((int(firm.max()) + 1, len(each)))
    np.add.at(together, firm, fits)

    def weighed(fit: Floats) -> Floats:
        with np.errstate(divide="ignore"):  # a guess without a chance
            fit = fit + np.log(chance)
        weight = np.exp(fit - fit.max(1, keepdims=True))
        return np.asarray(weight / weight.sum(1, keepdims=True) @ each)

    return weighed(together), weighed(together[firm] - fits)


def _likelihood(level: Floats, blur: Floats, habits: Habits) -> Floats:
    spread = (blur + habits.habit_width**2)[:, None]
    return np.asarray(np.exp(-0.5 * (level[:, None] - GRID) ** 2 / spread) + 1e-10)


def _wide(habits: Habits) -> Floats:
    wide = np.exp(-0.5 * ((GRID - habits.wide_mean) / habits.wide_spread) ** 2)
    return np.asarray(wide / wide.sum())


def _stretched(levels: Floats, factor: float) -> Floats:
    """The same levels with every root times ``factor``; what would lie beyond the grid is left out."""
    edges = np.concatenate([[0.0], 0.5 * (GRID[1:] + GRID[:-1]), [GRID[-1] + 0.1]])
    below = np.concatenate([[0.0], np.cumsum(levels)])
    moved = np.diff(np.interp(edges / factor, edges, below))
    return np.asarray(moved / moved.sum())


def _mixed(of_kind: Floats, of_firm: Floats, guess: Floats, habits: Habits) -> Floats:
    """How often each level occurs: among the kind, helped by the organisation, helped by the guess."""
    of_kind, of_firm = np.maximum(of_kind, 0.0), np.maximum(of_firm, 0.0)
    behind = (of_firm + habits.wide_weight * guess) / (of_firm.sum(1, keepdims=True) + habits.wide_weight)
    return np.asarray(of_kind + habits.kind_weight * behind)
