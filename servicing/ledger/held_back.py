"""How well each shape of path foretells what a run of values did later, from what it had done before."""

from functools import lru_cache
from itertools import takewhile
from math import inf, log
from typing import NamedTuple

import numpy as np

from servicing.ledger.wear_path import SHAPES, Bent, Run, Shape, least_misfit

LEAST = 4
"""Values a run needs before anything is said of its trend."""
ORIGINS = 8
"""At most so many places of a run from which the rest of it is foretold."""
MOST_OFF = 1.0
"""A value counts as foretold wrongly by the change of its whole run at most: some paths run off."""
FAR_OFF = log(8.0)
"""Hours left count as foretold wrongly by a factor of eight at most."""
KEPT = 4096
"""Runs whose errors are kept in memory: what was measured does not change."""


class Miss(NamedTuple):
    """A forecast of a run's end: the share of the way it had gone, and log(foretold / actual hours left)."""

    share: float
    off: float


@lru_cache(maxsize=KEPT)
def values_off(run: Run) -> tuple[float, ...] | None:
    """Return how far each of SHAPES is off, on average, where later values are foretold from earlier ones.

    As a share of the change over the whole run; a shape that doesn't suit the values is off by MOST_OFF. None
    where nothing can be held back, or the run doesn't move.
    """
    if not _origins(run):
        return None
    bent = Bent(run)
    whole = bent.foretold(len(run))[0]
    change = abs(whole[-1] - whole[0])  # of the straight line, which is the first shape and always suits
    if change == 0:
        return None
    misses = []
    for known in _origins(run):
        off_by = np.abs(bent.foretold(known)[:, known:] - bent.values[known:]) / change
        misses.append(np.minimum(off_by, MOST_OFF).mean(axis=1))
    off = dict(zip(bent.shapes, np.mean(misses, axis=0).tolist(), strict=True))
    return tuple(off.get(shape, MOST_OFF) for shape in SHAPES)


@lru_cache(maxsize=KEPT)
def hours_off(run: Run, shape: Shape) -> tuple[Miss, ...]:
    """Return how wrong the hours left to the run's end were foretold by this shape, from places along it.

    The run's way is that of the path that fits all of it best, so that a slip of the gauge at its end doesn't
    pass for a forecast gone wrong.
    """
    if not _origins(run):
        return ()
    bent = Bent(run)
    went = least_misfit(bent)
    first, last = went.at(run[0][0]), went.at(run[-1][0])
    found = []
    for known in _origins(run):
        hours = run[known - 1][0]
        share = (went.at(hours) - first) / (last - first) if last != first else 1.0
        left = run[-1][0] - hours
        if 0 < share < 1 and left > 0:
            suits = shape in bent.shapes and shape.suits([last])
            foretold = bent.path(shape, known).reaches(last) - hours if suits else inf
            off = log(foretold / left) if 0 < foretold < inf else FAR_OFF * (1 if foretold > 0 else -1)
            found.append(Miss(share, max(min(off, FAR_OFF), -FAR_OFF)))
    return tuple(found)


def _origins(run: Run) -> list[int]:
    """How many values are known at each origin: spread evenly, ORIGINS at most, never all at one time."""
    alike = sum(1 for _ in takewhile(lambda row: row[0] == run[0][0], run))
    first, last = max(LEAST, alike + 1), len(run) - 1
    return sorted({round(known) for known in np.linspace(first, last, ORIGINS)}) if first <= last else []
