"""Season and weekday: learned where more than a year is known. Own simulated fleets, fixed seeds."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.usage import history, pace, projector, rhythm

FIRST = 19_000.0  # a Thursday-based day number; 19 000 is 8 January 2022
LEVELS = (0.1, 0.5, 0.9)


def fleet(*, peaks, days=900, each=12, swing=0.9, seed=3):
    """Machines of kinds with a yearly peak (share of the year; None: no season), Sundays nearly idle."""
    chance = np.random.default_rng(seed)
    day = FIRST + np.arange(days)
    week = np.where((day + 3) % 7 == 6, 0.1, np.where((day + 3) % 7 == 5, 0.5, 1.0))
    kind = np.repeat(np.arange(len(peaks)), each)
    totals, rows = [], []
    for number, of in enumerate(kind):
        year = (
            1.0 if peaks[of] is None else 1 + swing * np.cos(2 * np.pi * (day % 365.25 / 365.25 - peaks[of]))
        )
        ran = (
            chance.gamma(2, 1.5, days) * year * week * (chance.random(days) > 0.3) * chance.uniform(0.6, 1.6)
        )
        total = np.concatenate([[0], np.cumsum(ran)])
        totals.append(total)
        read = np.unique(np.cumsum(chance.integers(2, 8, days // 3)))
        rows += [(number, FIRST + n, total[n]) for n in read[read < days]]
    return kind, np.array(rows).T, np.array(totals)


def known(rows, kind, until):
    machine, day, hours = rows
    seen = day <= until
    return history.increments(
        machine=machine[seen].astype(int), day=day[seen], hours=hours[seen], machines=len(kind)
    )


def test_less_than_a_year_or_nothing_teaches_no_rhythm():
    kind, rows, _ = fleet(peaks=(0.5,), each=3)
    assert rhythm.learn(known(rows, kind, FIRST + 390), kind=kind, now=FIRST + 390) is None
    nothing = history.increments(machine=[], day=[], hours=[], machines=3)
    assert rhythm.learn(nothing, kind=kind, now=FIRST) is None


def test_months_and_sundays_are_found_by_kind():
    kind, rows, _ = fleet(peaks=(0.5, 0.0, None))
    clock = rhythm.learn(known(rows, kind, FIRST + 800), kind=kind, now=FIRST + 800)
    weight = np.diff(clock.worked, axis=1)
    day = clock.first + np.arange(weight.shape[1])
    summer = np.abs(day % 365.25 - 182) < 30
    winter = np.minimum(day % 365.25, 365.25 - day % 365.25) < 30
    ratio = weight[:, summer].mean(1) / weight[:, winter].mean(1)
    assert ratio[0] > 4  # true: 1.9 to 0.1, taken to a season not quite so strong
    assert ratio[1] < 0.25
    assert 0.75 < ratio[2] < 1.33
    sunday = weight[:, (day + 3) % 7 == 6].mean(1) / weight[:, (day + 3) % 7 == 1].mean(1)
    assert (sunday < 0.5).all()  # true: 0.1, shrunk and blurred by increments of several days


def test_a_fleet_without_rhythm_is_left_even():
    kind, rows, _ = fleet(peaks=(None, None), swing=0)
    clock = rhythm.learn(known(rows, kind, FIRST + 800), kind=kind, now=FIRST + 800)
    monthly = np.diff(clock.worked, axis=1)[:, :728].reshape(2, 26, 28).mean(2)
    assert np.abs(monthly / monthly.mean() - 1).max() < 0.2


def test_the_rhythm_makes_the_days_better_and_the_interval_honest():
    kind, rows, totals = fleet(peaks=(0.5, 0.0, None))

    def score(with_rhythm):
        losses, inside = [], []
        for now in np.arange(FIRST + 500, FIRST + 800, 25):
            used = projector.learn(known(rows, kind, now), machine_type=kind, now=float(now))
            if not with_rhythm:
                used = replace(
                    used,
                    rhythm=None,
                    pace=pace.estimate(known(rows, kind, now), machine_type=kind, as_of=float(now)),
                )
            machine, day, hours = rows
            last = np.array([np.flatnonzero((machine == n) & (day <= now))[-1] for n in range(len(kind))])
            for ahead in (30, 60, 120):
                said = used.crossings(
                    machine=np.arange(len(kind)), remaining=np.full(len(kind), float(ahead)), last=day[last]
                )
                for n in range(len(kind)):
                    reached = np.searchsorted(totals[n], hours[last[n]] + ahead)
                    if reached < totals.shape[1] and np.isfinite(said.late[n]):
                        came = FIRST + reached - now
                        three = [float(quantile[n]) for quantile in said]
                        losses.append(
                            np.mean(
                                [
                                    max(p * (came - q), (p - 1) * (came - q))
                                    for p, q in zip(LEVELS, three, strict=True)
                                ]
                            )
                        )
                        inside.append(three[0] <= came <= three[2])
        return np.mean(losses), np.mean(inside)

    plain, _ = score(with_rhythm=False)
    loss, held = score(with_rhythm=True)
    assert loss < 0.7 * plain
    assert 0.7 < held < 0.9


@given(st.lists(st.floats(0, 1500), min_size=1, max_size=20), st.integers(0, 1))
def test_the_clock_reads_back_what_it_says(days, of):
    kind, rows, _ = fleet(peaks=(0.5, 0.0), each=2, days=600)
    clock = rhythm.learn(known(rows, kind, FIRST + 590), kind=kind, now=FIRST + 590)
    there = clock.worked_by(FIRST + np.array(days), of)
    assert clock.day_when(there, of) == pytest.approx(FIRST + np.array(days), abs=1e-6)
    assert np.all(np.diff(clock.worked_by(FIRST + np.sort(days), of)) >= 0)
    assert clock.day_when(np.array([np.inf]), of)[0] == np.inf
