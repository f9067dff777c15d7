"""A life table: a column for every so many hours of a machine's life, a dot at each where work is due."""

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

from servicing.planning.table_marks import Marked

FEWEST_COLUMNS, FEWEST_DOTS = 5, 3


def is_life(hours: Sequence[Decimal]) -> bool:
    """Whether columns run on in even steps: 50, 100, 150, 200, 250; one may come first: 50, 250, 500."""
    return _is_even(hours) or (len(hours) > 1 and hours[0] < hours[1] and _is_even(hours[1:]))


def _is_even(hours: Sequence[Decimal]) -> bool:
    return len(hours) >= FEWEST_COLUMNS and all(
        amount == step * hours[0] for step, amount in enumerate(hours, start=1)
    )


def shows_life(dots: Sequence[Decimal], last: Decimal) -> bool:
    """Whether a row's dots can only be meant as one at each hour where it is due."""
    return len(dots) >= FEWEST_DOTS and bool(pattern(dots, last))


def pattern(dots: Sequence[Decimal], last: Decimal) -> list[tuple[Marked, ...]]:
    """Return the ways to read a row's dots in a life of `last` hours, the likeliest first; [] for none.

    Dots at 100, 200, 300: every 100. At 50, 250, 450: first 50, then every 200, and so at 50, 200, 400: the
    house counts on from the multiples. One dot where a second would have had its place: once.
    """
    due = sorted(dots)
    first, rest = due[0], due[1:]
    if due == _steps(first, first, last):
        every = (Marked(hours=first),)
        return [every] if rest or first * 2 <= last else [every, (Marked(hours=first, first=True),)]
    if not rest:
        return [(Marked(hours=first, first=True),)]
    gap = rest[0] - first
    ways = []
    if len(rest) > 1 or rest[0] + gap > last:
        if due == _steps(first, gap, last) and gap > first:
            ways.append(gap)
        if rest == _steps(rest[0], rest[0], last) and rest[0] not in ways and rest[0] > first:
            ways.append(rest[0])
    found = [(Marked(hours=first, first=True), Marked(hours=every)) for every in ways]
    return [way for way in found if way]


def guesses(dots: Sequence[Decimal]) -> list[tuple[Marked, ...]]:
    """Return what an irregular row may mean: its narrowest gap each time, or the first dot only."""
    due = sorted(dots)
    gaps = [later - earlier for earlier, later in pairwise(due)]
    every = min([*gaps, due[0]])
    return [(Marked(hours=every),), (Marked(hours=due[0], first=True),)]


def _steps(first: Decimal, every: Decimal, last: Decimal) -> list[Decimal]:
    count = int((last - first) // every)
    return [first + every * step for step in range(count + 1)]
