"""Tasks of the programs as jobs to be put in order; `planning.route` says what makes one order better."""

import re
from collections.abc import Iterable

from servicing.models import Caution, Check, Task
from servicing.planning.route import Job, Route, best

# What a step says when an engine or a drive is to move in it.
MOVES = re.compile(r"\b(start|run|idle|drive|crank)\b", re.IGNORECASE)


def route(tasks: Iterable[tuple[int, Task]]) -> Route:
    """Return the order in which the tasks are best done. Each comes with the number its job is to carry.

    The order doesn't depend on how they are listed. Asks nothing if program, cautions and checks were fetched
    with them. One walk leads round the machine; places of a further program come after those of the first.
    """
    rows = sorted(tasks, key=lambda row: (row[1].version_id, row[1].position, row[1].pk))
    walk = dict.fromkeys(place for _, task in rows for place in task.version.program.round)
    return best([_job(number, task) for number, task in rows], list(walk))


def may_run(task: Task) -> bool:
    """Return whether the engine may be run in a task: not while oil is out, then, nor before cold work.

    Nothing in a program says so outright. Warm work, function tests, a caution about exhaust gas and steps
    that tell one to start, run or drive are taken as signs of it.
    """
    return (
        task.engine == Task.Engine.WARM
        or any(check.kind == Check.Kind.FUNCTION for check in task.checks.all())
        or any(caution.hazard == Caution.Hazard.GAS for caution in task.cautions.all())
        or any(MOVES.search(step) for step in task.steps)
    )


def _job(number: int, task: Task) -> Job:
    return Job(
        id=number,
        engine=task.engine,
        place=task.place,
        opens=tuple(task.opens),
        minutes=task.minutes,
        wait=task.wait_minutes,
        runs=may_run(task),
    )
