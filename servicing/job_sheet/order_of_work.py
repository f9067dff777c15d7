"""Tasks of the programs as jobs to be put in order; `planning.route` says what makes one order better."""

from collections.abc import Iterable

from servicing.models import Task
from servicing.planning.route import Job, Route, best


def route(tasks: Iterable[tuple[int, Task]]) -> Route:
    """Return the order in which the tasks are best done. Each comes with the number its job is to carry.

    The order doesn't depend on how they are listed. Asks nothing if the program was fetched with them. One
    walk leads round the machine; places of a further program, an attachment's, come after those of the first,
    so that one unit is left for another only where that saves time.
    """
    rows = sorted(tasks, key=lambda row: (row[1].version_id, row[1].position, row[1].pk))
    walk = dict.fromkeys(place for _, task in rows for place in task.version.program.round)
    return best([_job(number, task) for number, task in rows], list(walk))


def _job(number: int, task: Task) -> Job:
    return Job(
        id=number,
        engine=task.engine,
        place=task.place,
        opens=tuple(task.opens),
        minutes=task.minutes,
        wait=task.wait_minutes,
        runs=task.may_run,
    )
