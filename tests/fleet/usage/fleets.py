"""The excerpt in data/ and invented fleets, for the tests of this folder."""

import csv
from datetime import date
from pathlib import Path

import numpy as np

DATA = Path(__file__).parent / "data"
EPOCH = date(1970, 1, 1).toordinal()


def day(text):
    return float(date.fromisoformat(text).toordinal() - EPOCH)


def rows(name):
    with (DATA / f"{name}.csv").open(newline="") as lines:
        return list(csv.DictReader(lines))


def excerpt():
    """Types, readings (machine, day, hours), cases (machine, origin, remaining, days; nan: open) of data/."""
    number = {row["machine"]: i for i, row in enumerate(rows("machines"))}
    types = np.unique([row["type"] for row in rows("machines")], return_inverse=True)[1]
    readings = np.array(
        [(number[r["machine"]], day(r["taken_at"]), float(r["hours"])) for r in rows("readings")]
    )
    cases = np.array([
        (number[r["machine"]], day(r["origin"]), float(r["target_hours"]) - float(r["hours_at_origin"]),
         day(r["actual_date"]) - day(r["origin"]) if r["actual_date"] else np.nan)
        for r in rows("truth")
    ])  # fmt: skip
    return types, readings, cases


def steady(rates, days=100, every=5.0):
    """Readings of machines that run ``rates`` hours a day, a reading every few days: machine, day, hours."""
    at = np.arange(0.0, days + every / 2, every)
    machine = np.repeat(np.arange(len(rates)), len(at))
    when = np.tile(at, len(rates))
    return {"machine": machine, "day": when, "hours": when * np.asarray(rates, float)[machine]}
