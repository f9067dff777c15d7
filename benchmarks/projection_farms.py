"""Does the guess at an organisation's levels hurt farms whose machines run otherwise? On invented farms.

    python benchmarks/projection_farms.py [--machines 5 20] [--farms 6]

Each farm has machines of three types around one level (0.3 to 7 h a day, a fifth or three fifths apart), a
season with its peak in July (north) or January (south), quiet Saturdays and Sundays, idle days, and a reading
every 2 to 14 days over ten months (no season is known yet) or two years. At six moments each machine is asked
for marks 10, 30 and 60 average days ahead. Printed is the pinball loss over that of the wide prior alone.
Nothing here is measured on a farm: rates, season and chance are round figures ("common practice, no source").
"""

import argparse
import sys
from itertools import product
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fleet.usage import history, pace, projector

FIRST = 19_000.0
RATES = (0.3, 0.6, 1.0, 1.5, 2.5, 4.0, 7.0)
APART, PEAKS, KNOWN = (0.2, 0.6), {"north": 0.5, "south": 0.0}, (300, 700)
LEVELS = np.array([0.1, 0.5, 0.9])
AFTER = 200  # days played out beyond what is known, so that most marks come
WIDE = pace.HABITS._replace(usual_chance=0.0, paced_chance=0.0, wide_weight=10.0)  # as it was before


def farm(machines: int, rate: float, apart: float, peak: float, known: int, seed: int):
    """Kind by machine, readings (machine, day, hours) end to end, and total hours [machines, days]."""
    chance = np.random.default_rng(seed)
    day = FIRST + np.arange(known + AFTER)
    week = np.where((day + 3) % 7 == 6, 0.1, np.where((day + 3) % 7 == 5, 0.5, 1.0))
    kind, shift = np.arange(machines) % 3, chance.normal(0, 0.04, 3)
    rows, totals = [], []
    for number in range(machines):
        year = 1 + 0.9 * np.cos(2 * np.pi * (day % 365.25 / 365.25 - peak - shift[kind[number]]))
        level = rate * np.exp(apart * chance.standard_normal()) / (0.7 * 0.8)  # idle days, weekends
        ran = level * year * week * chance.gamma(2, 0.5, len(day)) * (chance.random(len(day)) > 0.3)
        total = np.concatenate([[0.0], np.cumsum(np.minimum(ran, 22.0))])
        read = np.cumsum(chance.integers(2, 15, known))
        rows += [(number, FIRST + n, total[n]) for n in read[read < len(day)]]
        totals.append(total)
    return kind, np.array(rows).T, np.array(totals)


def loss(machines: int, known: int, habits: list[pace.Habits], **of) -> np.ndarray:
    """Pinball, coverage and share before the likely day of a farm's marks, [habits, 3]."""
    kind, (machine, day, hours), totals = farm(machines, known=known, **of)
    told: list[list[np.ndarray]] = [[] for _ in habits]
    for now in FIRST + np.linspace(0.25 * known, known, 6).round():
        past = day <= now
        found = history.increments(
            machine=machine[past].astype(int), day=day[past], hours=hours[past], machines=machines
        )
        last = (
            np.searchsorted(machine + (day - FIRST) / 1e4, np.arange(machines) + (now - FIRST + 0.5) / 1e4)
            - 1
        )
        used = [projector.learn(found, machine_type=kind, now=float(now), habits=each) for each in habits]
        for ahead, (place, learned) in product((10.0, 30.0, 60.0), enumerate(used)):
            said = learned.crossings(
                machine=np.arange(machines), remaining=np.full(machines, ahead * of["rate"]), last=day[last]
            )
            three = np.minimum(np.stack(said, 1), 400.0)
            marks = hours[last] + ahead * of["rate"]
            came = FIRST + np.array([np.searchsorted(t, m) for t, m in zip(totals, marks, strict=True)]) - now
            miss = came[:, None] - three
            pinball = np.maximum(LEVELS * miss, (LEVELS - 1) * miss).mean(1)
            inside = (came >= three[:, 0]) & (came <= three[:, 2])
            told[place].append(np.stack([pinball, inside, came < three[:, 1]], 1))
    return np.array([np.concatenate(each).mean(0) for each in told])


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--machines", type=int, nargs="+", default=[5, 20])
    parser.add_argument("--farms", type=int, default=6, help="farms of each sort")
    options = parser.parse_args()
    for machines in options.machines:
        print(f"farms of {machines}: loss with the usual levels over loss with the wide prior alone")
        ratios = []
        for rate in RATES:
            sorts = []
            for apart, (half, peak), known in product(APART, PEAKS.items(), KNOWN):
                of = {"rate": rate, "apart": apart, "peak": peak}
                both = np.mean(
                    [
                        loss(machines, known, [pace.HABITS, WIDE], seed=seed, **of)
                        for seed in range(options.farms)
                    ],
                    axis=0,
                )
                sorts.append((both[0, 0] / both[1, 0], f"{half}, {apart:g} apart, {known} d", both))
            worst, mean = max(sorts), np.exp(np.mean([np.log(sort[0]) for sort in sorts]))
            cover = 100 * np.mean([sort[2] for sort in sorts], axis=0)[:, 1]
            ratios += [sort[0] for sort in sorts]
            print(
                f"  {rate:4g} h a day  {mean:.3f}  worst {worst[0]:.3f} ({worst[1]})  "
                f"coverage {cover[0]:.0f} % (wide {cover[1]:.0f} %)",
                flush=True,
            )
        print(f"  all {len(ratios)} sorts   {np.exp(np.mean(np.log(ratios))):.3f}  worst {max(ratios):.3f}")


if __name__ == "__main__":
    main()
