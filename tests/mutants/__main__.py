"""Draw faults, try them, and say which no test noticed. Exits with 1 where that are too many.

Faults that change nothing a caller could see stand in equivalent.toml, each with its reason.
"""

import argparse
import os
import sys
import tomllib
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from tests.mutants import drawn, tried
from tests.mutants.rooms import ROOMS
from tests.mutants.tried import Tried

FAULTS = 400
NOTICED_AT_LEAST = 0.90  # of those that change what the code does
EQUIVALENT_AT_MOST = 0.10  # of all
EQUIVALENT = Path(__file__).with_name("equivalent.toml")


def main() -> int:
    """Run the command; return its exit code."""
    arguments = argparse.ArgumentParser(prog="make mutants", description=__doc__.splitlines()[0])
    arguments.add_argument("--number", type=int, default=FAULTS, help="how many faults are drawn")
    arguments.add_argument("--only", default="", help="try only those drawn whose module's path begins so")
    asked = arguments.parse_args()
    modules = [module for room in ROOMS for module in room.modules()]
    faults = drawn.sample(modules, asked.number)
    faults = [each for each in faults if str(each.module_path).startswith(asked.only)]
    results: list[Tried] = []
    for result in tried.all_of(faults, Path.cwd(), os.cpu_count() or 1):
        results.append(result)
        outcome = "endless" if result.endless else "noticed" if result.noticed else "SURVIVED"
        print(f"{len(results):4} of {len(faults)} {outcome:8} {said(result)}", flush=True)
    return judged(results, stale_counts=not asked.only and asked.number == FAULTS)


def judged(results: Sequence[Tried], *, stale_counts: bool) -> int:
    """Print the outcome; return 0 where enough was noticed, else 1. An entry of the list is for one fault."""
    listed = Counter(
        (e["module"], e["was"], e["now"]) for e in tomllib.loads(EQUIVALENT.read_text())["fault"] if e["why"]
    )
    equivalent: list[Tried] = []
    unnoticed: list[Tried] = []
    for each in results:
        if each.noticed:
            continue
        (equivalent if listed[_key(each)] > 0 else unnoticed).append(each)
        listed[_key(each)] -= 1
    stale = [key for key, left in listed.items() if left > 0] if stale_counts else []
    changing = len(results) - len(equivalent)
    share = (changing - len(unnoticed)) / changing if changing else 1.0
    print(
        f"\n{len(results)} faults, {len(equivalent)} of them equivalent; of the other {changing} "
        f"{changing - len(unnoticed)} were noticed: {share:.1%}, "
        f"{sum(each.endless for each in results)} of them because the tests had not ended"
    )
    for each in sorted(unnoticed, key=lambda each: (each.module, each.line)):
        print(f"  not noticed: {said(each)}")
    for module, was, now in sorted(stale):
        print(f"  equivalent.toml names a fault that isn't drawn, or is noticed: {module}: {was} -> {now}")
    few = len(equivalent) <= EQUIVALENT_AT_MOST * len(results)
    return 0 if share >= NOTICED_AT_LEAST and few and not stale else 1


def said(result: Tried) -> str:
    """Return a fault in one line."""
    return f"{result.module}:{result.line} {result.operator}: {result.was} -> {result.now}"


def _key(result: Tried) -> tuple[str, str, str]:
    return result.module, result.was, result.now


if __name__ == "__main__":
    sys.exit(main())
