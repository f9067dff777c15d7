"""Score the projection on a folder of readings with known outcomes, beside rules a person can use by hand.

    python benchmarks/projection_score.py FOLDER [--refit] [--fleets]

FOLDER holds dev_readings.csv (machine,taken_at,hours), dev_machines.csv (machine,type) and dev_truth.csv
(machine,origin,hours_at_origin,target_hours,actual_date). Cases whose origin lies at least 120 days
before the last day of data (2013-12-31 for the shared set, --end) are scored; the others are counted aloud.
A blank actual date counts as the last day, or as the forecast if that is later.

Every forecast uses only readings dated on or before its origin. Rules by hand have no early and late
day, so theirs are the 10 and 90 % quantiles of their own relative errors on the other folds' machines.
--refit learns our constants again for each fold of machines, from the readings (not the truth) of the other
folds, and once more from what was known on the median origin's day, scored after it. --fleets scores fleets
of few machines.
"""

import argparse
import csv
import sys
import time
from datetime import date
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fleet.usage import crossing, history, pace

LEVELS = np.array([0.1, 0.5, 0.9])
FOLDS = 5
EPOCH = date(1970, 1, 1).toordinal()


class Fleet(NamedTuple):
    names: list[str]
    types: np.ndarray
    increments: history.Increments
    readings: tuple[np.ndarray, np.ndarray, np.ndarray]  # machine, day, hours; ordered


class Cases(NamedTuple):
    machine: np.ndarray
    origin: np.ndarray
    remaining: np.ndarray
    days: np.ndarray  # from origin to the actual date; nan: not within the data
    end: np.ndarray  # days from origin to the last day of data

    def pick(self, which):
        return Cases(*(column[which] for column in self))


def day(text: str) -> int:
    return date.fromisoformat(text).toordinal() - EPOCH


def load(folder: Path, end: int) -> tuple[Fleet, Cases]:
    """Read the three files; prints how many truth rows are scored and why the others are not."""

    def rows(name):
        with (folder / name).open(newline="") as lines:
            return list(csv.DictReader(lines))

    machines, readings, truth = rows("dev_machines.csv"), rows("dev_readings.csv"), rows("dev_truth.csv")
    number = {row["machine"]: i for i, row in enumerate(machines)}
    types = np.unique([row["type"] for row in machines], return_inverse=True)[1]
    machine = np.array([number[row["machine"]] for row in readings])
    days = np.array([day(row["taken_at"]) for row in readings], float)
    hours = np.array([float(row["hours"]) for row in readings])
    order = np.lexsort((days, machine))
    machine, days, hours = machine[order], days[order], hours[order]
    fleet = Fleet(
        list(number),
        types,
        history.increments(machine=machine, day=days, hours=hours, machines=len(number)),
        (machine, days, hours),
    )
    origin = np.array([day(row["origin"]) for row in truth], float)
    cases = Cases(
        machine=np.array([number[row["machine"]] for row in truth]),
        origin=origin,
        remaining=np.array([float(row["target_hours"]) - float(row["hours_at_origin"]) for row in truth]),
        days=np.array([day(row["actual_date"]) if row["actual_date"] else np.nan for row in truth]) - origin,
        end=end - origin,
    )
    early_enough = cases.end >= 120
    print(
        f"{len(number)} machines, {len(readings)} readings; {early_enough.sum()} of {len(truth)} cases scored "
        f"({np.isnan(cases.days[early_enough]).sum()} of them with a blank outcome), "
        f"{(~early_enough).sum()} too near the end"
    )
    return fleet, cases.pick(early_enough)


# ------------------------------------------------- forecasts, all [cases, 3] days from the origin


def ours(fleet: Fleet, cases: Cases, habits=pace.HABITS) -> np.ndarray:
    forecast = np.zeros((len(cases.machine), 3))
    for origin in np.unique(cases.origin):
        at = np.flatnonzero(cases.origin == origin)
        usage = pace.estimate(fleet.increments, machine_type=fleet.types, as_of=origin, habits=habits)
        ahead = crossing.first_passage(usage, machine=cases.machine[at], remaining=cases.remaining[at])
        forecast[at] = np.minimum(np.stack(ahead, 1), crossing.HORIZON)
    return forecast


def by_hand(fleet: Fleet, cases: Cases, window: float) -> np.ndarray:
    """Rate over the last ``window`` days times the remainder: the likely day alone, [cases].

    The window starts at the last reading on or before it; a machine that did not run takes its lifetime rate,
    and one without that either 1 h a day.
    """
    machine, days, hours = fleet.readings
    first = np.searchsorted(machine, cases.machine)
    after = first + np.array(
        [
            np.searchsorted(days[a:b], origin, side="right")
            for a, b, origin in zip(
                first, np.searchsorted(machine, cases.machine, side="right"), cases.origin, strict=True
            )
        ]
    )
    now = after - 1
    since = np.array(
        [
            max(a, a + np.searchsorted(days[a:b], origin - window, side="right") - 1)
            for a, b, origin in zip(first, after, cases.origin, strict=True)
        ]
    )

    def rate(start):
        return (hours[now] - hours[start]) / np.maximum(days[now] - days[start], 1.0)

    pick = np.where(rate(since) > 0, rate(since), rate(first))
    return cases.remaining / np.where(pick > 0, pick, 1.0)


def with_spread(likely: np.ndarray, cases: Cases, fold: np.ndarray) -> np.ndarray:
    """Give a likely day the 10 and 90 % quantiles of its relative error on the other folds' machines."""
    forecast = np.stack([likely] * 3, 1)
    actual = outcome(cases, likely)
    for k in range(FOLDS):
        ratio = (actual / likely)[fold != k]
        forecast[fold == k, 0] *= np.quantile(ratio, 0.1)
        forecast[fold == k, 2] *= np.quantile(ratio, 0.9)
    return forecast


# ------------------------------------------------- scores


def outcome(cases: Cases, forecast: np.ndarray) -> np.ndarray:
    """Days to the actual date; a blank counts as the end of data, or as the forecast if that is later."""
    blank = np.isnan(cases.days)
    if forecast.ndim > 1:
        return np.where(blank[:, None], np.maximum(cases.end[:, None], forecast), cases.days[:, None])
    return np.where(blank, np.maximum(cases.end, forecast), cases.days)


def pinball(cases: Cases, forecast: np.ndarray) -> np.ndarray:
    """Pinball loss in days, [cases, 3]."""
    miss = outcome(cases, forecast) - forecast
    return np.maximum(LEVELS * miss, (LEVELS - 1) * miss)


def row(name: str, cases: Cases, forecast: np.ndarray) -> str:
    loss = pinball(cases, forecast)
    actual = outcome(cases, forecast[:, 1])
    inside = (actual >= forecast[:, 0]) & (actual <= forecast[:, 2])
    miss = forecast[:, 1] - actual
    width = np.mean(forecast[:, 2] - forecast[:, 0])
    parts = " ".join(f"{part:6.2f}" for part in loss.mean(0))
    return (
        f"{name:44s} {loss.mean():7.3f} {parts} {100 * inside.mean():7.1f} % "
        f"{np.abs(miss).mean():7.2f} {miss.mean():7.2f} {width:7.1f}"
    )


HEADER = f"{'method':44s} pinball     .1     .5     .9  coverage     MAE    bias   width"


# ------------------------------------------------- learning the constants again

TUNED = (
    "settled_half_life", "recent_half_life", "swing", "swing_days", "swing_kept", "swing_unseen", "habit_width",
    "kind_weight", "level_floor", "lump_share",
)  # fmt: skip
START = pace.Habits(
    recent_half_life=30.0, settled_half_life=90.0, lump_share=1.0, swing=0.2, swing_days=60.0, swing_kept=0.5,
    swing_unseen=0.5, habit_width=0.15, level_floor=0.05, kind_weight=5.0,
)  # fmt: skip


def made_cases(fleet: Fleet, machines: np.ndarray, last_day: float) -> Cases:
    """Cases from the readings alone, as service marks make them.

    Every 25 h from 200 h on is a mark; we stand at the first reading at most 80, and at most 40 hours
    before it. Outcomes after ``last_day`` are unknown; origins lie 120 days or more before it, or 45 where
    few days are known.
    """
    machine, days, hours = fleet.readings
    rows = []
    for i in machines:
        own = slice(*np.searchsorted(machine, [i, i + 1]))
        known = days[own] <= last_day
        day_of, run = days[own][known], hours[own][known]
        for mark in np.arange(200.0, run.max(initial=0.0) + 80.0, 25.0):
            reached = np.interp(mark, run, day_of) if len(run) and run[-1] >= mark else np.nan
            for ahead in (80.0, 40.0):
                at = np.searchsorted(run, mark - ahead)
                if at < len(run) and run[at] < mark - 25.0:
                    rows.append(
                        (i, day_of[at], mark - run[at], np.ceil(reached) - day_of[at], last_day - day_of[at])
                    )
    cases = Cases(*np.array(rows).T)
    cases = cases._replace(machine=cases.machine.astype(int))
    margin = 120.0 if last_day - cases.origin.min() > 240 else 45.0
    return cases.pick(cases.end >= margin)


def learn(fleet: Fleet, cases: Cases, rounds: int = 3) -> pace.Habits:
    """Pattern search over logs of the tuned constants for the least mean pinball, on some thirty origins."""
    origins = np.unique(cases.origin)
    cases = cases.pick(np.isin(cases.origin, origins[:: max(1, len(origins) // 30)]))

    def loss(habits):
        return pinball(cases, ours(fleet, cases, habits)).mean()

    best, least = START, loss(START)
    step = dict.fromkeys(TUNED, 0.35)
    for _ in range(rounds):
        for name in TUNED:
            for sign in (1, -1):
                tried = best._replace(**{name: getattr(best, name) * float(np.exp(sign * step[name]))})
                now = loss(tried)
                if now < least - 1e-5:
                    best, least = tried, now
                    break
            else:
                step[name] *= 0.5
    return best


def refitted(fleet: Fleet, cases: Cases, fold_of: np.ndarray, end: float) -> None:
    """Print our row with constants learned for each fold from the other folds, and before a day."""
    forecast = np.zeros((len(cases.machine), 3))
    for k in range(FOLDS):
        began = time.monotonic()
        habits = learn(fleet, made_cases(fleet, np.flatnonzero(fold_of != k), end))
        here = fold_of[cases.machine] == k
        forecast[here] = ours(fleet, cases.pick(here), habits)
        print(f"  fold {k}: " + ", ".join(f"{n} {getattr(habits, n):.3g}" for n in TUNED)
              + f" ({time.monotonic() - began:.0f} s)", flush=True)  # fmt: skip
    print(row("ours, constants learned on the other folds", cases, forecast), flush=True)
    day_known = np.quantile(cases.origin, 0.5)
    habits = learn(fleet, made_cases(fleet, np.arange(len(fleet.names)), day_known))
    print("  before: " + ", ".join(f"{n} {getattr(habits, n):.3g}" for n in TUNED))
    late = cases.pick(cases.origin > day_known)
    print(row("ours, learned before the median origin", late, ours(fleet, late, habits)))
    print(row("  the same cases, all-year constants", late, ours(fleet, late)))


def small_fleets(fleet: Fleet, cases: Cases) -> None:
    """Print our row for random fleets of 5, 20 and 100 machines that know nothing of the others."""
    for size, draws in ((5, 60), (20, 16), (100, 4)):
        chance = np.random.default_rng(size)
        parts, forecasts = [], []
        for _ in range(draws):
            members = np.sort(chance.choice(len(fleet.names), size, replace=False))
            new = np.full(len(fleet.names), -1)
            new[members] = np.arange(size)
            inc = fleet.increments
            kept = new[inc.machine] >= 0
            small = fleet._replace(
                types=fleet.types[members],
                increments=history.Increments(
                    new[inc.machine[kept]], inc.start[kept], inc.end[kept], inc.hours[kept], size
                ),
            )
            theirs = cases.pick(new[cases.machine] >= 0)
            parts.append(theirs)
            forecasts.append(ours(small, theirs._replace(machine=new[theirs.machine])))
        joined = Cases(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))
        print(
            row(
                f"ours, {draws} fleets of {size} ({len(joined.machine)} cases)",
                joined,
                np.concatenate(forecasts),
            )
        )
        alike = np.concatenate([ours(fleet, part) for part in parts])
        print(row("  the same cases in the whole fleet", joined, alike), flush=True)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--end", default="2013-12-31", help="last day of the data")
    parser.add_argument(
        "--refit", action="store_true", help="learn our constants again for each fold (minutes)"
    )
    parser.add_argument("--fleets", action="store_true", help="score random fleets of 5, 20 and 100 machines")
    options = parser.parse_args()
    try:
        fleet, cases = load(options.folder, day(options.end))
    except (OSError, KeyError, ValueError) as error:
        print(f"projection_score: {error}", file=sys.stderr)
        return 2
    fold_of = np.random.default_rng(0).integers(0, FOLDS, len(fleet.names))
    print(HEADER)
    for name, window in (("last 30 days", 30.0), ("last 90 days", 90.0), ("lifetime rate", np.inf)):
        print(row(name, cases, with_spread(by_hand(fleet, cases, window), cases, fold_of[cases.machine])))
    print(row("ours, the constants it ships with", cases, ours(fleet, cases)), flush=True)
    if options.refit:
        refitted(fleet, cases, fold_of, float(day(options.end)))
    if options.fleets:
        small_fleets(fleet, cases)
    return 0


if __name__ == "__main__":
    sys.exit(main())
