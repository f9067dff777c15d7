"""Score the path of a measured value beside the straight line of before: a fatigue test, and simulated wear.

    python benchmarks/wear.py [--trials 200]

The fatigue test: crack lengths of 21 specimens (from memory; see tests/servicing/ledger/fatigue.py). Each
specimen is left out in turn; the others are its kin, each to the end of its own test. The 12 that reach
1.60 in are foretold from the first third, half and two thirds of their values, rounded up, for three values
are fewer than anything is said of: 36 forecasts. "Left" is from the last of
these values to the crossing, taken straight between the values before and after. The 9 that the end of the
test cut off have no crossing: they are kin of the others, and of their own 27 forecasts it is only counted
how many say for sure that they failed within the test.

Simulated wear goes from 0 to 1 in 1,000 h, read by a gauge with normal noise. The constants
were chosen on it; servicing/ledger/README.md says where the fatigue test was looked at all the same.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from servicing.ledger.trend import Crossing, Outlook, Point, look
from servicing.ledger.wear_path import Run
from tests.servicing.ledger import fatigue

Tell = Callable[[Run, Sequence[Run]], Crossing | None]
LIFE = 1000.0
LIMIT, FIRST = 1.8, 1.0
GROWTH = 2.7
HEADER = f"{'':38s} told  median error   bias  width  inside  late"


class Scene(NamedTuple):
    """Values of a run: its way over the share of its life, noise as a share of it, how many, how far."""

    name: str
    way: Callable[[np.ndarray], np.ndarray]
    noise: float
    known: int
    upto: float


class Score(NamedTuple):
    error: float
    inside: bool
    width: float


def growth(t: np.ndarray) -> np.ndarray:
    """The way of a value whose rate grows as value ** GROWTH; never 1 before its time."""
    bent = 1 - (1 - LIMIT ** (1 - GROWTH)) * t
    return (np.maximum(bent, 1e-3) ** (1 / (1 - GROWTH)) - 1) / (LIMIT - 1)


def bend(power: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda t: t**power


def running_in(t: np.ndarray) -> np.ndarray:
    return t**0.6


def exponential(t: np.ndarray) -> np.ndarray:
    """Of no shape that is tried: exponential above a level of its own."""
    return np.expm1(2 * t) / np.expm1(2)


SCENES = [
    Scene("straight, 4 values to 50 %", bend(1), 0.03, 4, 0.5),
    Scene("straight, 6 to 40 %", bend(1), 0.03, 6, 0.4),
    Scene("straight, 14 to 70 %", bend(1), 0.03, 14, 0.7),
    Scene("straight, coarse gauge, 8 to 60 %", bend(1), 0.1, 8, 0.6),
    Scene("straight, coarse gauge, 14 to 70 %", bend(1), 0.1, 14, 0.7),
    Scene("power 2.2, 6 to 60 %", bend(2.2), 0.03, 6, 0.6),
    Scene("power 2.2, 14 to 70 %", bend(2.2), 0.03, 14, 0.7),
    Scene("power 2.2, coarse, 14 to 70 %", bend(2.2), 0.1, 14, 0.7),
    Scene("growth 2.7, 6 to 40 %", growth, 0.03, 6, 0.4),
    Scene("growth 2.7, 14 to 70 %", growth, 0.03, 14, 0.7),
    Scene("exponential, 14 to 70 %", exponential, 0.03, 14, 0.7),
    Scene("slowing down, power 0.6, 8 to 60 %", running_in, 0.03, 8, 0.6),
]


def values(chance: np.random.Generator, scene: Scene, *, life: float = LIFE) -> Run:
    steps = np.linspace(0, scene.upto, scene.known)
    shaken = steps + chance.uniform(-0.3, 0.3, scene.known) * scene.upto / (scene.known - 1)
    at = np.sort(np.maximum(shaken, 0))
    at[0] = 0
    way = scene.way(at) + chance.normal(0, scene.noise, scene.known)
    found = np.round(FIRST + (LIMIT - FIRST) * way, 3)
    return tuple(zip((at * life).tolist(), found.tolist(), strict=True))


def kin(chance: np.random.Generator, scene: Scene, count: int) -> list[Run]:
    """Runs of other machines: of the same way, 6 to 13 values to 60 to 105 % of it, lives a third apart."""
    return [
        values(
            chance,
            scene._replace(known=int(chance.integers(6, 14)), upto=float(chance.uniform(0.6, 1.05))),
            life=LIFE * float(np.exp(chance.normal(0, 0.3))),
        )
        for _ in range(count)
    ]


def told(run: Run, others: Sequence[Run] = ()) -> Outlook:
    return look([Point(*row) for row in run], lower=None, upper=LIMIT, kin=others)


def line(name: str, made: list[Score], asked: int) -> str:
    if not made:
        return f"{name:38s} {0:3d} %"
    error = np.array([each.error for each in made])
    return (
        f"{name:38s} {100 * len(made) / asked:3.0f} %  {100 * np.median(np.abs(error)):10.1f} % "
        f"{100 * np.median(error):+5.0f} % {100 * np.median([each.width for each in made]):4.0f} % "
        f"{100 * np.mean([each.inside for each in made]):5.0f} % {100 * np.mean(error > 0):4.0f} %"
    )


def score(crossing: Crossing, run: Run) -> Score:
    left = LIFE - run[-1][0]
    return Score(
        (crossing.hours - LIFE) / left,
        crossing.early <= LIFE <= crossing.late,
        (crossing.late - crossing.early) / left,
    )


def score_fatigue() -> None:
    print(f"\nfatigue test, each specimen left out in turn\n{HEADER}")

    def alone(known: Run, _others: Sequence[Run]) -> Crossing | None:
        return fatigue.by_path(known, ())

    tells: dict[str, Tell] = {
        "straight line, 90 %": fatigue.by_straight_line,
        "path, 80 %": fatigue.by_path,
        "path, no kin": alone,
    }
    for name, tell in tells.items():
        made = fatigue.forecasts(tell)
        print(line(name, [Score(each.error, each.is_inside, each.width) for each in made], 36))
        inside, late = sum(each.is_inside for each in made), sum(each.error > 0 for each in made)
        cut = fatigue.forecasts(tell, failed=False)
        wrong = sum(each.told.late < fatigue.run(each.specimen)[-1][0] for each in cut)
        print(f"{'':38s} {inside} of {len(made)} inside, {late} late, {len(made) - late} early")
        print(f"{'':38s} of the 9 cut off: {len(cut)} of 27 told, {wrong} surely wrong")
    for share in fatigue.SHARES:
        for name, tell in list(tells.items())[:2]:
            made = [each for each in fatigue.forecasts(tell) if _is_of(each, share)]
            scores = [Score(each.error, each.is_inside, each.width) for each in made]
            print(line(f"  first {share:.0%}, {name}", scores, 12))


def _is_of(each: fatigue.Forecast, share: float) -> bool:
    return each.known == int(np.ceil(share * len(fatigue.PATHS[each.specimen]) - 1e-9))


def score_scenes(trials: int) -> None:
    print(
        f"\nsimulated wear, {trials} machines each; straight: as before, 90 % interval; path: 80 %\n{HEADER}"
    )
    for scene in SCENES:
        made: dict[str, list[Score]] = {
            "straight": [],
            "path, alone": [],
            "path, 5 kin": [],
            "path, 12 kin": [],
        }
        bent = dict.fromkeys(made, 0)
        chance = np.random.default_rng(1)
        for _ in range(trials):
            run = values(chance, scene)
            others = kin(chance, scene, 12)
            before = fatigue.by_straight_line(run, (), LIMIT)
            made["straight"] += [score(before, run)] if before else []
            for name, count in {"path, alone": 0, "path, 5 kin": 5, "path, 12 kin": 12}.items():
                outlook = told(run, others[:count])
                bent[name] += outlook.halves is not None
                made[name] += [score(outlook.crossing, run)] if outlook.crossing else []
        print(scene.name)
        for name, scores in made.items():
            drawn = f", {100 * bent[name] / trials:.0f} % bent" if name != "straight" else ""
            print(line(f"  {name}{drawn}", scores, trials))


def score_unlike_kin(trials: int) -> None:
    """A machine that wears otherwise than its 12 kin."""
    print(f"\nunlike its 12 kin\n{HEADER}")
    straight, curved = SCENES[2], SCENES[6]
    for name, own, theirs in (
        ("straight among bent", straight, curved),
        ("bent among straight", curved, straight),
    ):
        for count in (8, 14):
            chance, made = np.random.default_rng(2), []
            for _ in range(trials):
                run = values(chance, own._replace(known=count))
                crossing = told(run, kin(chance, theirs, 12)).crossing
                made += [score(crossing, run)] if crossing else []
            print(line(f"  {name}, {count} values", made, trials))


def score_no_wear(trials: int) -> None:
    """False alarms: values that go nowhere, a limit five times the noise away, above and below."""
    print("\nno wear: how often a crossing is told (or said to be untold)")
    for count in (4, 6, 10, 20):
        chance, before, now, vague = np.random.default_rng(3), 0, 0, 0
        for _ in range(trials):
            run = tuple((100.0 * n, round(float(chance.normal(8, 0.2)), 2)) for n in range(count))
            others = [
                tuple((100.0 * n, round(float(chance.normal(8, 0.2)), 2)) for n in range(10))
                for _ in range(12)
            ]
            before += fatigue.by_straight_line(run, (), 9.0) is not None
            outlook = look([Point(*row) for row in run], lower=None, upper=9.0, kin=others)
            now += outlook.crossing is not None
            vague += outlook.vague is not None
        now_and_vague = f"{now / trials:.1%} ({vague / trials:.1%})"
        print(f"  {count:2d} values: straight {before / trials:.1%}, path {now_and_vague}")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--trials", type=int, default=200)
    trials = parser.parse_args().trials
    score_fatigue()
    score_scenes(trials)
    score_unlike_kin(trials)
    score_no_wear(5 * trials)


if __name__ == "__main__":
    main()
