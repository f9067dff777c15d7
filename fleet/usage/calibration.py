"""Keep the 80 % honest: correct the quantiles by what came of earlier projections.

Every outcome of a kept projection has a place among its early, likely and late day. If the places of an
organisation's outcomes are not where they should be (a tenth before early, half before likely, a tenth after
late), its quantiles are moved to where they were. Few outcomes move them little.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from .crossing import HORIZON, Crossing

NORMAL = ndtri(np.array([0.1, 0.5, 0.9]))  # places that early, likely and late should have
DOUBT = 150.0  # outcomes that the uncorrected quantiles count for


class Correction(NamedTuple):
    """Places from which early, likely and late are read, in standard normal units; ascending."""

    early: float
    likely: float
    late: float


NONE = Correction(*NORMAL)


def places(projected: Crossing, days: ArrayLike) -> np.ndarray:
    """Place of the outcome ``days`` among the projected quantiles, in standard normal units.

    On a log scale of days, the half before and after likely each with its own width. Days from the day of
    projection; inf: not yet come. NaN where the projection said "not within 3 years".
    """
    early, likely, late = (np.maximum(np.asarray(q, float), 0.5) for q in projected)
    days = np.maximum(np.asarray(days, float), 0.5)
    known = late < HORIZON
    with np.errstate(divide="ignore", invalid="ignore"):
        side = np.where(days >= likely, np.log(late / likely), np.log(likely / early))
        place = NORMAL[2] * np.log(days / likely) / np.maximum(side, 1e-3)
    return np.where(known, place, np.nan)


def learn(projected: Crossing, days: ArrayLike, *, elapsed: ArrayLike) -> Correction:
    """Learn the correction from kept projections of one organisation.

    projected: the quantiles as projected (uncorrected), days from then; days: until the mark was reached, inf
    for not yet; elapsed: days from then until now. Only projections whose late day lies behind are
    used, so that quick outcomes don't come first; a mark not reached by then counts as later than late.
    """
    ripe = np.asarray(projected.late, float) < np.asarray(elapsed, float)
    place = places(projected, np.where(np.isnan(days), np.inf, days))[ripe]
    place = np.sort(place[~np.isnan(place)])
    if len(place) == 0:
        return NONE
    seen = np.clip(np.quantile(place, [0.1, 0.5, 0.9], method="higher"), -4.0, 4.0)
    moved = NORMAL + (seen - NORMAL) * len(place) / (len(place) + DOUBT)
    return Correction(*np.maximum.accumulate(moved))


def correct(projected: Crossing, correction: Correction) -> Crossing:
    """The quantiles read from the corrected places; inf and today stay what they are."""
    early, likely, late = (np.asarray(q, float) for q in projected)
    fixed = ~np.isfinite(late) | (early < 0.01)  # endless, or today
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        after, before = np.log(late / likely), np.log(likely / early)
        stretched = [z / NORMAL[2] * (after if z >= 0 else before) for z in correction]
        moved = [likely * np.exp(np.clip(x, -40.0, 40.0)) for x in stretched]
    quantiles = [np.where(fixed, was, now) for was, now in zip(projected, moved, strict=True)]
    return Crossing(*(np.where(q <= HORIZON, q, np.inf) for q in quantiles))
