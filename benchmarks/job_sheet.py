"""How much a good order of work saves on each of the demonstration's programmes, all tasks at once.

    python benchmarks/job_sheet.py [PROGRAM.yaml ...]

The objective is that of `servicing.planning.route`: elapsed, walking and opening minutes. Compared are the
maker's list from top to bottom, the tasks sorted by place once round the machine, and the order found; beside
them a bound that no order can go below, labour minutes, and the time it takes to find the order.
"""

import sys
import time
from pathlib import Path
from typing import Any

import yaml

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from servicing.planning.route import Job, best, in_order_of, least_possible

PROGRAMS = Path(__file__).resolve().parents[1] / "fixtures" / "programs"


def jobs_of(program: dict[str, Any]) -> list[Job]:
    """Return the tasks of a program file as jobs."""
    return [
        Job(
            id=number,
            engine=task["engine"],
            place=task["place"],
            opens=tuple(task.get("opens", ())),
            minutes=task["minutes"],
            wait=task.get("wait_minutes", 0),
            runs=task.get("runs", True),
        )
        for number, task in enumerate(program["tasks"])
    ]


def main() -> None:
    files = [Path(name) for name in sys.argv[1:]] or sorted(PROGRAMS.glob("*.yaml"))
    print(
        f"{'programme':<20}{'tasks':>6}{'list':>9}{'place':>9}{'ours':>9}{'bound':>9}{'labour':>10}{'ms':>7}"
    )
    for file in files:
        program = yaml.safe_load(file.read_text())
        jobs, walk = jobs_of(program), program["round"]
        by_place = sorted(jobs, key=lambda job: walk.index(job.place) if job.place in walk else len(walk))
        began = time.process_time()
        ours = best(jobs, walk)
        took = 1000 * (time.process_time() - began)
        listed, placed = (in_order_of(rows, walk).objective for rows in (jobs, by_place))
        figures = (listed, placed, ours.objective, least_possible(jobs, walk))
        shown = "".join(f"{figure:>9.1f}" for figure in figures)
        hands_on = sum(job.minutes for job in jobs)
        print(f"{file.stem:<20}{len(jobs):>6}{shown}{hands_on:>10}{took:>7.0f}")


if __name__ == "__main__":
    main()
