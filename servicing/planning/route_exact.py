"""The best order of a few jobs, proven: dynamic programming over what is done already.

Of two ways to the same visits done, the same place and the same covers open, one that is nowhere behind the
other (walking and opening, time, end of the wait, cold again, warm till) makes the other needless: whatever
follows the other can follow it too, and ends no later. What can't beat an order known already is dropped.
"""

from servicing.planning.route_problem import COLD, WARM, Found, Order, Problem, State

Label = tuple[int, State, str, Order]  # the visits left, as bits
Key = tuple[int, int, int]  # visits left and covers open, as bits; the place


def exact(problem: Problem, *, at_most: int) -> Found:
    """Return the best order of all. `at_most`: the objective of some order, in half minutes.

    Takes time and memory that grow as 2 to 3 to the power of the number of jobs.
    """
    labels: list[Label] = [(problem.everything, problem.begin(stands), stands, ()) for stands in (COLD, WARM)]
    for _ in problem.minutes:
        reached: dict[Key, list[Label]] = {}
        for left, state, stands, order in labels:
            for visit in problem.minutes:
                if not left >> visit & 1:
                    continue
                after, then = problem.step(state, visit), left ^ 1 << visit
                if after is None or after.spent + problem.rest(after, then) > at_most:
                    continue
                key = (then, after.place, after.is_open)
                _keep(reached.setdefault(key, []), (then, after, stands, (*order, visit)))
        labels = [label for kept in reached.values() for label in kept]
    _, state, stands, order = min(labels, key=lambda label: (label[1].spent, label[2] == WARM, label[3]))
    return Found(state.spent, stands, order)


def _keep(kept: list[Label], new: Label) -> None:
    """Add a label unless one that is kept is nowhere behind it; drop those that are nowhere ahead of it."""
    for label in kept:
        if label[1].nowhere_behind(new[1]) and (label[1] != new[1] or label[2:] <= new[2:]):
            return
    kept[:] = [label for label in kept if not new[1].nowhere_behind(label[1])]
    kept.append(new)
