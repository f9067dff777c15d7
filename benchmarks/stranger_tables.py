"""How many tasks of tables made by strangers are right, asked, refused or wrong.

Run `python -m benchmarks.stranger_tables [seen|apart|third|judge|own] [-v]`.

The cases lie in tests/servicing/planning/table_cases; the scorer is the tests' own. `one` counts the asked
tasks that one answer makes right.
"""

import sys

from tests.servicing.planning.stranger_tables import ASKED, REFUSED, RIGHT, WRONG, cases, score


def main(folder: str = "") -> None:
    """Print a line a case and the sum; folder: `seen`, `apart`, `third`, `judge` or `own`, else all."""
    print(
        f"{'case':<44}{'tasks':>6}{'right':>7}{'asked':>7}{'one':>5}{'refused':>9}{'WRONG':>7}{'invented':>10}"
    )
    total = [0] * 7
    for case in cases():
        if not case[0].startswith(folder):
            continue
        scored = score(*case)
        one = sum(verdict.said == ASKED and verdict.answered for verdict in scored.verdicts)
        counts = [len(scored.verdicts), scored.count(RIGHT), scored.count(ASKED), one]
        counts += [scored.count(REFUSED), scored.count(WRONG), len(scored.invented)]
        total = [sum(pair) for pair in zip(total, counts, strict=True)]
        print(_line(scored.name, counts))
        if "-v" in sys.argv:
            for verdict in scored.verdicts:
                if verdict.said in (WRONG, REFUSED) or (verdict.said == ASKED and not verdict.answered):
                    print(f"    {verdict.said}: {verdict.title}: {verdict.why}")
            for title in scored.invented:
                print(f"    invented: {title}")
    print(_line("all", total))


def _line(name: str, counts: list[int]) -> str:
    widths = (6, 7, 7, 5, 9, 7, 10)
    return f"{name:<44}" + "".join(f"{count:>{width}}" for count, width in zip(counts, widths, strict=True))


if __name__ == "__main__":
    main(next((word for word in sys.argv[1:] if not word.startswith("-")), ""))
