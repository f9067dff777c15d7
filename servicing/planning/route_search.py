"""A good order of many jobs: two beginnings, each improved by moving visits until no move helps.

A beginning is built visit by visit from the most promising part-orders (a beam, judged by what is spent and
what is left at the very least), once for a machine that stands cold and once for one that stands warm. A move
takes up to four visits that follow each other and puts them elsewhere, in their order or the reverse.
"""

from collections.abc import Iterator, Sequence

from servicing.planning.route_problem import COLD, WARM, Found, Order, Problem, State

BEAM = 20
BLOCK = 4


def search(problem: Problem) -> Found:
    """Return a good order; the same one each time."""
    found = [_improved(problem, stands, _beam(problem, stands)) for stands in (COLD, WARM)]
    return min(found, key=lambda each: (each.objective, each.stands == WARM, each.visits))


def _beam(problem: Problem, stands: str) -> Order:
    kept: list[tuple[int, Order, int, State]] = [(0, (), problem.everything, problem.begin(stands))]
    for _ in problem.minutes:
        reached: dict[tuple[int, int, int], tuple[int, Order, int, State]] = {}
        for _, order, left, state in kept:
            for visit in problem.minutes:
                after = problem.step(state, visit) if left >> visit & 1 else None
                if after is None:
                    continue
                then = left ^ 1 << visit
                new = (after.spent + problem.rest(after, then), (*order, visit), then, after)
                key = (then, after.place, after.is_open)
                if key not in reached or new < reached[key]:
                    reached[key] = new
        kept = sorted(reached.values())[:BEAM]
    return kept[0][1]


def _improved(problem: Problem, stands: str, order: Order) -> Found:
    """Take each move that helps as it is found, until a whole round of moves finds none."""
    states = [problem.begin(stands)]
    for visit in order:
        after = problem.step(states[-1], visit)
        if after is None:
            raise ValueError("A beginning breaks a rule.")
        states.append(after)
    since, at = 0, 0
    while since < len(order):
        since += 1
        for first, last, changed in _moves(order, at):
            better = _better(problem, changed, first, last, states)
            if better:
                order, states, since = changed, better, 0
                break
        else:
            at = (at + 1) % len(order)
    return Found(states[-1].spent, stands, order)


def _moves(order: Order, start: int) -> Iterator[tuple[int, int, Order]]:
    """Yield the orders in which a block that begins at `start` stands elsewhere, with the first position that
    is changed and the one after the last."""
    for length in range(1, min(BLOCK, len(order) - start) + 1):
        block, rest = order[start : start + length], order[:start] + order[start + length :]
        for turned in (block, block[::-1])[: min(length, 2)]:
            for to in range(len(rest) + 1):
                if to != start or turned != block:
                    yield min(start, to), max(start, to) + length, rest[:to] + turned + rest[to:]


def _better(
    problem: Problem, order: Order, first: int, last: int, known: Sequence[State]
) -> list[State] | None:
    """Return the states of an order that differs from a known one from `first` to before `last`; None where
    it breaks a rule or isn't better."""
    states = list(known[: first + 1])
    for number in range(first, len(order)):
        after = problem.step(states[-1], order[number])
        if after is None:
            return None
        states.append(after)
        if number + 1 >= last and _same_way_on(known[number + 1], after):
            return None
    return states if states[-1].spent < known[-1].spent else None


def _same_way_on(known: State, new: State) -> bool:
    """Whether what follows is the same for both, and no better for the new one."""
    return (
        known.place == new.place
        and known.is_open == new.is_open
        and known.waiting == new.waiting
        and known.nowhere_behind(new)
    )
