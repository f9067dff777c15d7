"""Score the projection on a folder of readings with known outcomes, beside rules a person can use by hand.

    python benchmarks/projection_score.py FOLDER [--refit] [--fleets [SIZE ...]] [--times X] [--usual]

FOLDER holds dev_readings.csv (machine,taken_at,hours), dev_machines.csv (machine,type) and dev_truth.csv
(machine,origin,hours_at_origin,target_hours,actual_date). Cases whose origin lies at least 120 days
before the last day of data (2013-12-31 for the shared set, --end) are scored; the others are counted aloud.
A blank actual date counts as the last day, or as the forecast if that is later.

Every forecast uses only readings dated on or before its origin. Rules by hand have no early and late
day, so theirs are the 10 and 90 % quantiles of their own relative errors on other machines.
--refit learns our constants again for each fold of machines, from the readings (not the truth) of the other
folds, and once more from what was known on the median origin's day, scored after it. --fleets cuts each fold
into fleets of few machines that know nothing of each other, the usual levels (``Habits.usual``) learned in
the other folds; with --refit, so are the other constants. All cases are scored in fleets of each size.
--times plays the same set with X times the hours, the usual levels learned from the hours as they were:
fleets that run otherwise. It goes without --refit.
--usual prints the usual levels of all machines, as they are written in fleet/usage/habits.py.
"""

import argparse
import csv
import sys
import time
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fleet.usage import backtest, pace

FOLDS = 5
SIZES, DRAWS = (3, 5, 10, 20), 2  # of fleets that are cut from a fold, and how often it is cut
EPOCH = date(1970, 1, 1).toordinal()
HEADER = f"{'method':46s} pinball     .1     .5     .9  coverage  before     MAE    bias   width"


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
    before = (backtest.outcome(cases, forecast[:, 1]) < forecast[:, 1]).mean()
    return (
        f"{name:46s} {score.pinball:7.3f} {parts[0]:6.2f} {parts[1]:6.2f} {parts[2]:6.2f} "
        f"{100 * score.coverage:7.1f} % {100 * before:5.1f} % "
        f"{score.mae:7.2f} {score.bias:7.2f} {score.width:7.1f}"
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


def learn(
    book: backtest.LogBook, cases: backtest.Cases, start: pace.Habits = START, rounds: int = 2
) -> pace.Habits:
    """Pattern search over logs of the tuned constants for the least mean pinball, on some thirty origins."""
    origins = np.unique(cases.origin)
    cases = cases.pick(np.isin(cases.origin, origins[:: max(1, len(origins) // 30)]))

    def loss(habits):
        return backtest.pinball(cases, backtest.ours(book, cases, habits=habits)[0]).mean()

    best, least = start, loss(start)
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


def usual_levels(book: backtest.LogBook, machines: np.ndarray, last_day: float, habits: pace.Habits) -> tuple:
    """How often each level occurs among some machines up to a day: a mean over every thirtieth day before."""
    known = book.increments().of(np.isin(np.arange(book.machines), machines))
    days = np.arange(min(last_day, known.end.max()), known.start.min() + 90.0, -30.0)
    return pace.usual_levels(known, days=days, habits=habits)


def by_fold(book: backtest.LogBook, cases: backtest.Cases, fold_of: np.ndarray, **known) -> np.ndarray:
    """Our forecast with each fold's own constants ``habits``, [cases, 3]."""
    forecast = np.zeros((len(cases.machine), 3))
    for k, habits in enumerate(known.pop("habits")):
        here = fold_of[cases.machine] == k
        forecast[here] = backtest.ours(book, cases.pick(here), habits=habits, **known)[0]
    return forecast


def refitted(
    book: backtest.LogBook, cases: backtest.Cases, fold_of: np.ndarray, end: float
) -> list[pace.Habits]:
    """Print our row with constants learned for each fold from the other folds, and before a day."""

    def learned(machines, last_day):
        start = START._replace(usual=usual_levels(book, machines, last_day, START))
        habits = learn(book, made_cases(book, machines, last_day), start)
        return habits._replace(usual=usual_levels(book, machines, last_day, habits))

    of_fold = []
    for k in range(FOLDS):
        began = time.monotonic()
        of_fold.append(learned(np.flatnonzero(fold_of != k), end))
        print(f"  fold {k} ({time.monotonic() - began:.0f} s): {named(of_fold[-1])}", flush=True)
    forecast = by_fold(book, cases, fold_of, habits=of_fold)
    print(row("ours, constants learned on the other folds", cases, forecast), flush=True)
    today = float(np.quantile(cases.origin, 0.5))
    habits = learned(np.arange(book.machines), today)
    print(f"  before the median origin: {named(habits)}")
    late = cases.pick(cases.origin > today)
    print(
        row("ours after it, constants learned before it", late, backtest.ours(book, late, habits=habits)[0])
    )
    print(row("  the same cases, constants as shipped", late, backtest.ours(book, late)[0]))
    return of_fold


def small_fleets(
    book: backtest.LogBook,
    cases: backtest.Cases,
    fold_of: np.ndarray,
    of_fold: list[pace.Habits],
    sizes: Sequence[int],
) -> None:
    """Print our rows for fleets cut from each fold, and with the wide prior alone, as it was before."""
    wide = [habits._replace(usual_chance=0.0, paced_chance=0.0, wide_weight=10.0) for habits in of_fold]
    for name, habits in (("usual levels of the other folds", of_fold), ("wide prior alone", wide)):
        whole = by_fold(book, cases, fold_of, habits=habits)
        print(row(f"the whole fleet, {name}", cases, whole), flush=True)
        best = backtest.pinball(cases, whole).mean()
        for size in sizes:
            many = backtest.Cases(*(np.tile(column, DRAWS) for column in cases))
            forecast = np.concatenate([
                by_fold(book, cases, fold_of, habits=habits, organisation=cut(fold_of, size, draw))
                for draw in range(DRAWS)
            ])  # fmt: skip
            more = 100 * (backtest.pinball(many, forecast).mean() / best - 1)
            print(row(f"  fleets of {size}: {more:+.1f} %", many, forecast), flush=True)


def cut(fold_of: np.ndarray, size: int, draw: int) -> np.ndarray:
    """Number of the fleet, by machine: each fold's machines at random in fleets of ``size``, or nearly."""
    chance, fleet, fleets = np.random.default_rng((size, draw)), np.zeros(len(fold_of), np.int64), 0
    for k in range(FOLDS):
        members = chance.permutation(np.flatnonzero(fold_of == k))
        parts = np.array_split(members, max(1, round(len(members) / size)))
        for number, part in enumerate(parts, fleets):
            fleet[part] = number
        fleets += len(parts)
    return fleet


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--end", default="2013-12-31", help="last day of the data")
    parser.add_argument("--refit", action="store_true", help="learn our constants again for each fold")
    parser.add_argument(
        "--fleets",
        type=int,
        nargs="*",
        metavar="SIZE",
        help=f"score fleets of so many machines, else of {SIZES}",
    )
    parser.add_argument("--times", type=float, default=1.0, help="score the set with so many times the hours")
    parser.add_argument("--usual", action="store_true", help="print the usual levels and do no more")
    options = parser.parse_args()
    if options.fleets and min(options.fleets) < 1:
        parser.error("a fleet has one machine or more")
    if not 0 < options.times < np.inf or (options.refit and options.times != 1):
        parser.error("--times takes a number above zero, and goes without --refit")
    try:
        book, cases = load(options.folder, day(options.end))
    except (OSError, KeyError, ValueError) as error:
        print(f"projection_score: {error}", file=sys.stderr)
        return 2
    everyone, last_day = np.arange(book.machines), float(day(options.end))
    if options.usual:
        print(*usual_levels(book, everyone, last_day, pace.HABITS), sep=", ")
        return 0
    as_it_was = book
    book = book._replace(hours=book.hours * options.times)
    cases = cases._replace(remaining=cases.remaining * options.times)
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
    fold_of = np.random.default_rng(0).integers(0, FOLDS, book.machines)
    if options.refit:
        of_fold = refitted(book, cases, fold_of, last_day)
    elif options.fleets is not None:
        of_fold = [
            pace.HABITS._replace(usual=usual_levels(as_it_was, everyone[fold_of != k], last_day, pace.HABITS))
            for k in range(FOLDS)
        ]
    if options.fleets is not None:
        small_fleets(book, cases, fold_of, of_fold, options.fleets or SIZES)
    return 0


if __name__ == "__main__":
    sys.exit(main())
