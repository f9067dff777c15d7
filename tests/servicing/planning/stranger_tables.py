"""Tables as strangers make them, and how what is read compares with what a careful person would read.

Each case is a text or a CSV file and, beside it, the tasks it holds. A task is

right     read with the rule, the words and the page it has
asked     a question stands on its row, and one of its answers makes it right, or the case itself would ask
refused   its row, or the whole table, is refused with a reason
WRONG     anything else: read otherwise, left out, or its words lost, without a word
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleet.core.csv_reader import separator_of
from servicing.planning import maker_table
from servicing.planning.intervals import Rule
from servicing.planning.maker_table import Grid, GridTask, Question
from servicing.planning.table_marks import meaning
from servicing.planning.table_words import WHEN, act_of, plain

CASES = Path(__file__).parent / "table_cases"
RIGHT, ASKED, REFUSED, WRONG = "right", "asked", "refused", "WRONG"
KEYS = ("first_hours", "every_hours", "first_months", "every_months")


@dataclass
class Verdict:
    """How one expected task was read, and why where it was not right; row: where it stood, 0 unknown."""

    title: str
    said: str
    why: str = ""
    answered: bool = False


@dataclass
class Scored:
    """A case with what became of each of its tasks, and the tasks that nobody expected."""

    name: str
    about: str
    verdicts: list[Verdict] = field(default_factory=list)
    invented: list[str] = field(default_factory=list)

    def count(self, said: str) -> int:
        """How many of its tasks were read so."""
        return sum(verdict.said == said for verdict in self.verdicts)


def cases() -> Iterator[tuple[str, Path, dict[str, Any]]]:
    """Yield each case: its name with the folder, the file a person has, and what it holds."""
    for expected in sorted(CASES.glob("*/*.json")):
        file = next(each for each in expected.parent.glob(f"{expected.stem}.*") if each.suffix != ".json")
        yield f"{expected.parent.name}/{expected.stem}", file, json.loads(expected.read_text("utf-8"))


def grid_of(file: Path, answers: dict[str, str] | None = None) -> tuple[list[list[str]], Grid]:
    """Return the cells of a file and what is read from them, pasted or as a CSV file."""
    written = file.read_bytes().decode("utf-8-sig")
    separator = separator_of(written) if file.suffix == ".csv" else "\t"
    cells = maker_table.cells(written, separator)
    return cells, maker_table.read(cells, answers)


def score(name: str, file: Path, expected: dict[str, Any]) -> Scored:
    """Return how each task of a case was read."""
    scored = Scored(name, expected["about"])
    cells, grid = grid_of(file)
    used: set[int] = set()
    questioned = {row for each in grid.questions for row in (each.row, *each.also)}
    faulty = {fault.row for fault in grid.faults}
    for task in expected["tasks"]:
        verdict = _judge(task, grid, cells, file, used, questioned, faulty)
        scored.verdicts.append(verdict)
    for at, task in enumerate(grid.tasks):
        if at not in used and task.row not in questioned:
            scored.invented.append(f"row {task.row}: {task.title}")
    return scored


def _judge(
    task: dict[str, Any],
    grid: Grid,
    cells: list[list[str]],
    file: Path,
    used: set[int],
    questioned: set[int],
    faulty: set[int],
) -> Verdict:
    rows = _rows_of(task, cells)
    candidates = [
        (at, read) for at, read in enumerate(grid.tasks) if at not in used and _is_title(task, read.title)
    ]
    asks = [each for each in grid.questions if {each.row, *each.also} & rows]
    problems = []
    for at, read in candidates:
        problem = _differs(task, read)
        row_asked = read.row in questioned or bool(rows & questioned)
        if task.get("ambiguous") and row_asked:
            used.add(at)
            return Verdict(task["title"], ASKED, task["ambiguous"])
        if not task.get("ambiguous") and not problem:
            used.add(at)
            return Verdict(task["title"], ASKED if row_asked else RIGHT, "", True)
        problems.append(problem)
    for _at, read in candidates:
        asks += [each for each in grid.questions if each.row == read.row and each not in asks]
    if asks:
        used.update(at for at, _read in candidates[:1])
        one = _after_one_answer(task, asks, file)
        return Verdict(task["title"], ASKED, "; ".join(problems) or task.get("ambiguous", ""), one)
    if rows & faulty or any(not fault.title for fault in grid.faults):
        return Verdict(task["title"], REFUSED, "; ".join(str(fault) for fault in grid.faults[:1]))
    return Verdict(task["title"], WRONG, "; ".join(filter(None, problems)) or "not read")


def _after_one_answer(task: dict[str, Any], asks: list[Question], file: Path) -> bool:
    if task.get("ambiguous"):
        return True
    for question in asks:
        for choice in question.choices:
            _cells, grid = grid_of(file, {question.place: choice.code})
            if any(_is_title(task, read.title) and not _differs(task, read) for read in grid.tasks):
                return True
    return False


def _rows_of(task: dict[str, Any], cells: list[list[str]]) -> set[int]:
    """The rows, from 1, in which the task's words stand."""
    wanted = plain(task["title"].split(":")[0])
    return {
        number
        for number, row in enumerate(cells, start=1)
        if wanted in plain(" ".join(row))
        or all(word in plain(" ".join(row)).split() for word in wanted.split())
    }


def _is_title(task: dict[str, Any], title: str) -> bool:
    """Whether a title has the item's words, and the act's where the case names one after a colon."""
    item, _colon, act = (part.strip() for part in task["title"].partition(":"))
    read = plain(title)
    if not all(word in re.findall(r"[\w'-]+", read) for word in re.findall(r"[\w'-]+", plain(item))):
        return False
    if not act:
        extra = read.replace(plain(item), "", 1).strip(" .:")
        return not re.search(r"^[a-z]", re.sub(r"[(\[].*", "", extra).strip(" ,;-–")) or ":" not in title
    return plain(act) in read or bool(act_of(act) and act_of(title.rpartition(":")[2]) == act_of(act))


def _differs(task: dict[str, Any], read: GridTask) -> str:
    """Say how a task that was read differs from the one expected; "" where it doesn't."""
    problems = []
    rules = meaning(read.marks).rules if read.marks else {}
    when = task.get("when", "")
    if when == "daily":
        rule = rules.get("normal")
        if rule is None or not rule.is_daily:
            problems.append(f"not daily but {_said(rules)}{read.when}")
    elif when:
        if read.marks or _occasion(read.when) != when:
            problems.append(f"not {when} but {_said(rules)}{read.when}")
    else:
        expected = {condition: _rule(rule) for condition, rule in task.get("rules", {}).items()}
        found = {condition: _found(rule) for condition, rule in rules.items()}
        for condition in expected:  # a condition carries the normal months with it
            if condition != "normal" and condition in found:
                here = found[condition]
                found[condition] = {key: here[key] for key in expected[condition] if key in here}
        if expected != found:
            problems.append(f"{found} for {expected}")
    kept = plain(" ".join([read.title, read.note, read.when]))
    problems += [
        f"lost “{words}”"
        for words in [*task.get("words", []), *task.get("spec", [])]
        if plain(words) not in kept
    ]
    if task.get("page") and task["page"] not in read.page:
        problems.append(f"page {read.page!r} for {task['page']!r}")
    return "; ".join(problems)


def _rule(rule: dict[str, Any]) -> dict[str, Decimal]:
    return {key: Decimal(str(rule[key])) for key in KEYS if rule.get(key) is not None}


def _found(rule: Rule) -> dict[str, Decimal]:
    return {key: Decimal(getattr(rule, key)) for key in KEYS if getattr(rule, key) is not None}


def _said(rules: dict[str, Rule]) -> str:
    return str({condition: _found(rule) for condition, rule in rules.items()}) if rules else ""


def _occasion(words: str) -> str:
    """Which of `as required` and `before storage` words mean, "" for neither."""
    said = plain(words)
    return next((when for when, pattern in WHEN.items() if pattern.search(said)), "")
