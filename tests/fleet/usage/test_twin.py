"""A Monte Carlo twin of the crossing: the same assumptions, played out day by day with a fixed seed."""

import numpy as np
import pytest

from fleet.usage import crossing, history, pace
from fleet.usage.pace import fade_over
from tests.fleet.usage.fleets import excerpt

DRAWS = 15_000


def played_out(usage, machine, hours, *, step=0.5, most=700):
    """Days until ``hours`` are run, drawn: a level and a swing, then hours in gamma lumps, half days."""
    chance = np.random.default_rng(11)
    habits, kept = usage.habits, usage.swing_kept[machine]
    level, swing = usage.settled[machine], usage.swing[machine]
    middle = float(crossing.first_passage(usage, machine=[machine], remaining=[hours]).likely[0])
    fade = fade_over(middle / habits.swing_days)
    spread = usage.settled_variance[machine] * (1 - kept * fade) ** 2
    spread += habits.swing_unseen * habits.swing**2 * (1 - kept * fade**2)
    off = np.sqrt(spread) * chance.standard_normal(DRAWS)
    run, days = np.zeros(DRAWS), np.full(DRAWS, np.inf)
    for k in range(int(most / step)):
        left = np.exp(-k * step / habits.swing_days)
        path = level**2 + ((level + swing) ** 2 - level**2) * left
        rate = np.maximum(np.sqrt(path) + off, 0.0) ** 2
        run += chance.gamma(np.maximum(rate * step / usage.lump[machine], 1e-9), usage.lump[machine])
        days[(run >= hours) & np.isinf(days)] = (k + 1) * step
        if np.isfinite(days).mean() > 0.99:
            break
    return days


@pytest.fixture(scope="module")
def usage():
    types, readings, _ = excerpt()
    found = history.increments(machine=readings[:, 0].astype(int), day=readings[:, 1], hours=readings[:, 2])
    return pace.estimate(found, machine_type=types, as_of=readings[:, 1].max() - 100)


@pytest.mark.parametrize("hours", [30.0, 80.0, 250.0])
def test_the_closed_form_is_right_for_machines_in_use(usage, hours):
    """Busy, middling and slow: every quantile within 7 % or 1.5 days of the twin."""
    order = np.argsort(usage.mean)
    for machine in order[[3, len(order) // 2, -2]]:
        twin = np.quantile(played_out(usage, machine, hours), [0.1, 0.5, 0.9])
        ahead = crossing.first_passage(usage, machine=[machine], remaining=[hours])
        assert np.concatenate(ahead) == pytest.approx(twin, rel=0.07, abs=1.5)


def test_where_it_is_not_right(usage):
    """A mark half a lump away is reached in a whole lump: the closed form may be off by a lump's days."""
    machine = int(np.argsort(usage.mean)[len(usage) // 2])
    lump = usage.lump[machine]
    twin = np.quantile(played_out(usage, machine, 0.5 * lump), 0.5)
    likely = crossing.first_passage(usage, machine=[machine], remaining=[0.5 * lump]).likely[0]
    assert abs(likely - twin) < lump / usage.mean[machine]
