"""Signs that a machine may be run in a task."""

import re
from collections.abc import Collection, Iterable

# What a step says when an engine or a drive is to move in it.
MOVES = re.compile(r"\b(start|run|idle|drive|crank)\b", re.IGNORECASE)


def may_run(*, engine: str, steps: Iterable[str], hazards: Collection[str], checks: Collection[str]) -> bool:
    """Return whether the engine may be run in a task: not while oil is out, then, nor before cold work.

    Nothing in a program says so outright. Warm work, function tests (`checks`: the kinds), a caution about
    exhaust gas and steps that tell one to start, run or drive are taken as signs of it. A sign too many costs
    some minutes, one too few could cost an engine.
    """
    return (
        engine == "warm"
        or "function" in checks
        or "gas" in hazards
        or any(MOVES.search(step) for step in steps)
    )
