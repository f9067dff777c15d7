"""What is read from a maker's table: its tasks, what a person is asked, and what can't be read."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from servicing.planning.language import gettext as _
from servicing.planning.table_marks import Marked
from servicing.planning.table_specs import Limit

LEAVE_OUT, YES = "leave", "yes"


@dataclass(frozen=True, slots=True)
class Fault:
    """A cell that can't be read. Rows and columns are counted from 1, as in the spreadsheet."""

    row: int
    column: int
    sentence: str
    title: str = ""
    heading: str = ""

    def __str__(self) -> str:
        return _("{row}, {column}: {sentence}").format(
            row=_row(self.row, self.title),
            column=_column(self.column, self.heading),
            sentence=self.sentence,
        )


@dataclass(frozen=True, slots=True)
class GridTask:
    """A row of the table: what is done, where it is marked, the manual's page, its footnotes in words.

    when: what says when it is done where no hours and no months do: `as required`. A task has marks or this,
    or both. remarks: what a person should know of how the row was read. measured: limits of its specification
    that a person wants a value for.
    """

    row: int
    title: str
    marks: tuple[Marked, ...]
    page: str = ""
    note: str = ""
    when: str = ""
    remarks: tuple[str, ...] = ()
    measured: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True)
class Offer:
    """Limits in a task's words that may become values to be entered, on a person's yes."""

    row: int
    place: str
    digest: str
    title: str
    limits: tuple[Limit, ...]
    taken: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer to a question: the tasks the row then becomes, or what it does in words.

    Without either the row is left out.
    """

    code: str
    tasks: tuple[GridTask, ...] = ()
    faults: tuple[Fault, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """A cell that can be read in more than one way.

    place: row and column as the answer names it, `4.3`. digest: of the row as typed, so that an answer is
    good for these words only. signature: the same for all that read the same. typed: the row's cells.
    also: other rows it is about. choices: the likeliest first, the last leaves the row out.
    answer: the code it was answered with, "" while it is open.
    """

    row: int
    column: int
    place: str
    digest: str
    signature: str
    sentence: str
    typed: tuple[str, ...]
    choices: tuple[Choice, ...]
    title: str = ""
    heading: str = ""
    also: tuple[int, ...] = ()
    answer: str = ""

    def __str__(self) -> str:
        return _("{row}, {column}: {sentence}").format(
            row=_row(self.row, self.title),
            column=_column(self.column, self.heading),
            sentence=self.sentence,
        )


@dataclass(slots=True)
class Grid:
    """What a table holds. `headings` are the rows read as titles of a section: row number and words.

    questions: all of them, answered ones too. words: rows that are no task and no footnote of one.
    """

    tasks: list[GridTask] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    headings: list[tuple[int, str]] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    words: list[tuple[int, str]] = field(default_factory=list)
    offers: list[Offer] = field(default_factory=list)

    @property
    def open(self) -> list[Question]:
        """The questions that nobody answered yet."""
        return [question for question in self.questions if not question.answer]


def answered(answers: Mapping[str, str], place: str, digest: str) -> str:
    """Return the code a place was answered with: `2`, or `DIGEST-2`, which is good for these words only."""
    said = answers.get(place, "")
    given, _dash, code = said.rpartition("-")
    return code if given in ("", digest) else ""


def _row(number: int, title: str) -> str:
    said = _("Row {number} ({title})") if title else _("Row {number}")
    return said.format(number=number, title=title)


def _column(number: int, heading: str) -> str:
    said = _("column {number} ({heading})") if heading else _("column {number}")
    return said.format(number=number, heading=heading)
