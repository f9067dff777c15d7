"""Score the projection on a folder of readings with known outcomes, beside rules a person can use by hand.

    python benchmarks/projection_score.py FOLDER [--refit] [--fleets]

FOLDER holds dev_readings.csv (machine,taken_at,hours), dev_machines.csv (machine,type) and dev_truth.csv
(machine,origin,hours_at_origin,target_hours,actual_date). Cases whose origin lies at least 120 days
before the last day of data (2013-12-31 for the shared set, --end) are scored; the others are counted aloud.
A blank actual date counts as the last day, or as the forecast if that is later.

Every forecast uses only readings dated on or before its origin. Rules by hand have no early and late
day, so theirs are the 10 and 90 % quantiles of their own relative errors on other machines.
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

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fleet.usage import backtest, pace

FOLDS = 5
EPOCH = date(1970, 1, 1).toordinal()
HEADER = f"{'method':46s} pinball     .1     .5     .9  coverage     MAE    bias   width"


def day(text: str) -> int:
    return date.fromisoformat(text).toordinal() - EPOCH


def load(folder: Path, end: int) -> tuple[backtest.LogBook, backtest.Cases]:
    """Read the three files; prints how many truth rows are scored and why the others are not."""

    def rows(name):
        with (folder / name).open(newline="") as lines:
            return list(csv.DictReader(lines))

    machines, readings, truth = rows("dev_machines.csv"), rows("dev_readings.csv"), rows("dev_truth.csv")
    number = {row["machine"]: i for i, row in enumerate(machines)}
    book = backtest.log_book(
        machine=[number[row["machine"]] for row in readings],
        day=[day(row["taken_at"]) for row in readings],
        hours=[float(row["hours"]) for row in readings],
        types=[row["type"] for row in machines],
    )
    origin = np.array([day(row["origin"]) for row in truth], float)
    cases = backtest.Cases(
        machine=np.array([number[row["machine"]] for row in truth]),
        origin=origin,
        remaining=np.array([float(row["target_hours"]) - float(row["hours_at_origin"]) for row in truth]),
        days=np.array([day(row["actual_date"]) if row["actual_date"] else np.nan for row in truth]) - origin,
        last_mark=np.full(len(truth), np.nan),
        end=end - origin,
    )
    scored = cases.end >= 120
    print(
        f"{len(number)} machines, {len(readings)} readings ({len(readings) - len(book.day)} impossible); "
        f"{scored.sum()} of {len(truth)} cases scored ({np.isnan(cases.days[scored]).sum()} of them blank), "
        f"{(~scored).sum()} too near the end"
    )
    return book, cases.pick(scored)


def row(name: str, cases: backtest.Cases, forecast: np.ndarray) -> str:
    score, parts = backtest.score(name, cases, forecast), backtest.pinball(cases, forecast).mean(0)
    return (
        f"{name:46s} {score.pinball:7.3f} {parts[0]:6.2f} {parts[1]:6.2f} {parts[2]:6.2f} "
        f"{100 * score.coverage:7.1f} % {score.mae:7.2f} {score.bias:7.2f} {score.width:7.1f}"
    )


# ------------------------------------------------- learning the constants again

START = pace.Habits(  # round figures to set out from; what is not named stays as shipped
    recent_half_life=30.0,
    settled_half_life=90.0,
    lump_share=1.0,
    swing=0.2,
    swing_days=60.0,
    swing_kept=0.5,
    swing_unseen=0.5,
    habit_width=0.15,
    level_floor=0.05,
    kind_weight=5.0,
    spell=0.1,
    lump_kin=60.0,
    lump_half_life=120.0,
)
TUNED = [name for name in START._fields if getattr(START, name) != getattr(pace.HABITS, name)] + [
    "swing_kept"
]


def made_cases(book: backtest.LogBook, machines: np.ndarray, last_day: float) -> backtest.Cases:
    """Cases from the readings of some machines up to a day: a mark every 25 h, 80 and 40 h ahead."""
    known = (book.day <= last_day) & np.isin(book.machine, machines)
    part = book._replace(machine=book.machine[known], day=book.day[known], hours=book.hours[known])
    every_25 = [
        backtest.choose(part._replace(hours=part.hours + shift), every=100.0, days_after=days_after)
        for shift in (0.0, 25.0, 50.0, 75.0)
        for days_after in [120.0 if last_day - book.day.min() > 300 else 45.0]
    ]
    return backtest.Cases(*(np.concatenate(columns) for columns in zip(*every_25, strict=True)))


def learn(book: backtest.LogBook, cases: backtest.Cases, rounds: int = 2) -> pace.Habits:
    """Pattern search over logs of the tuned constants for the least mean pinball, on some thirty origins."""
    origins = np.unique(cases.origin)
    cases = cases.pick(np.isin(cases.origin, origins[:: max(1, len(origins) // 30)]))

    def loss(habits):
        return backtest.pinball(cases, backtest.ours(book, cases, habits=habits)[0]).mean()

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


def named(habits: pace.Habits) -> str:
    return ", ".join(f"{name} {getattr(habits, name):.3g}" for name in TUNED)


def refitted(book: backtest.LogBook, cases: backtest.Cases, fold_of: np.ndarray, end: float) -> None:
    """Print our row with constants learned for each fold from the other folds, and before a day."""
    forecast = np.zeros((len(cases.machine), 3))
    for k in range(FOLDS):
        began = time.monotonic()
        habits = learn(book, made_cases(book, np.flatnonzero(fold_of != k), end))
        here = fold_of[cases.machine] == k
        forecast[here] = backtest.ours(book, cases.pick(here), habits=habits)[0]
        print(f"  fold {k} ({time.monotonic() - began:.0f} s): {named(habits)}", flush=True)
    print(row("ours, constants learned on the other folds", cases, forecast), flush=True)
    today = float(np.quantile(cases.origin, 0.5))
    habits = learn(book, made_cases(book, np.arange(book.machines), today))
    print(f"  before the median origin: {named(habits)}")
    late = cases.pick(cases.origin > today)
    print(
        row("ours after it, constants learned before it", late, backtest.ours(book, late, habits=habits)[0])
    )
    print(row("  the same cases, constants as shipped", late, backtest.ours(book, late)[0]))


def small_fleets(book: backtest.LogBook, cases: backtest.Cases) -> None:
    """Print our row for random fleets of 5, 20 and 100 machines that know nothing of the others."""
    for size, draws in ((5, 60), (20, 16), (100, 4)):
        chance = np.random.default_rng(size)
        parts, forecasts = [], []
        for _ in range(draws):
            members = np.sort(chance.choice(book.machines, size, replace=False))
            new = np.full(book.machines, -1)
            new[members] = np.arange(size)
            kept = new[book.machine] >= 0
            small = backtest.LogBook(
                new[book.machine[kept]], book.day[kept], book.hours[kept], book.types[members]
            )
            theirs = cases.pick(new[cases.machine] >= 0)
            parts.append(theirs)
            forecasts.append(backtest.ours(small, theirs._replace(machine=new[theirs.machine]))[0])
        joined = backtest.Cases(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))
        name = f"ours, {draws} fleets of {size} ({len(joined.machine)} cases)"
        print(row(name, joined, np.concatenate(forecasts)))
        alike = np.concatenate([backtest.ours(book, part)[0] for part in parts])
        print(row("  the same cases in the whole fleet", joined, alike), flush=True)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--end", default="2013-12-31", help="last day of the data")
    parser.add_argument("--refit", action="store_true", help="learn our constants again for each fold")
    parser.add_argument("--fleets", action="store_true", help="score random fleets of 5, 20 and 100 machines")
    options = parser.parse_args()
    try:
        book, cases = load(options.folder, day(options.end))
    except (OSError, KeyError, ValueError) as error:
        print(f"projection_score: {error}", file=sys.stderr)
        return 2
    print(HEADER)
    rules = {
        "last 30 days": cases.origin - 30.0,
        "last 90 days": cases.origin - 90.0,
        "lifetime rate": np.full(len(cases.origin), -np.inf),
    }
    for name, start in rules.items():
        forecast = backtest.with_spread(backtest.by_hand(book, cases, start), cases)
        print(row(name, cases, forecast))
    print(row("ours, constants as shipped", cases, backtest.ours(book, cases)[0]), flush=True)
    if options.refit:
        fold_of = np.random.default_rng(0).integers(0, FOLDS, book.machines)
        refitted(book, cases, fold_of, float(day(options.end)))
    if options.fleets:
        small_fleets(book, cases)
    return 0


if __name__ == "__main__":
    sys.exit(main())
