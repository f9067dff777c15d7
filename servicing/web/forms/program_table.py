"""A maker's table as it is typed, pasted or loaded: a cell is an input, and every one comes back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.core.csv_reader import first_rows, separator_of
from fleet.models import MachineType
from fleet.web.forms.fields import rows_choice
from fleet.web.forms.house import Form
from servicing.models import Interval
from servicing.planning import maker_table
from servicing.planning.maker_table import MOST_COLUMNS, MOST_ROWS, Grid
from servicing.planning.table_headings import NOTE, TASK, read_heading
from servicing.programs.file_format.grammar import Program, bounds

LARGEST = 1_000_000
MORE_ROWS = 5
FRESH = [
    ["Task", "first 50 h", "every 100 h", "every 200 h", "every 400 h", "every 1 year", "Page"],
    *([""] * 7 for _ in range(8)),
]


class AnchorForm(Form):
    """What all tasks of the table count from."""

    anchor = forms.ChoiceField(
        label=_("Intervals run"),
        choices=Interval.Anchor.choices,
        initial=Interval.Anchor.MARKS,
        widget=forms.RadioSelect,
        help_text=_(
            "A fixed schedule stays at 100, 200, 300 h however late the work was. You can change "
            "single tasks later."
        ),
    )


class AboutForm(AnchorForm):
    """Which machines a new program is for, and where it comes from."""

    machine_type: "forms.ModelChoiceField[MachineType]" = forms.ModelChoiceField(
        None, label=_("Model"), empty_label=_("Choose the model")
    )
    title = forms.CharField(
        label=_("Name of the programme"),
        help_text=_("What people call it, such as: Compact tractor, all hours."),
        **bounds(Program, "title"),
    )
    source = forms.CharField(
        label=_("Taken from"),
        help_text=_("The maker's manual with its number and edition."),
        **bounds(Program, "source"),
    )
    field_order = ("machine_type", "title", "source", "anchor")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_choice(self, "machine_type").queryset = MachineType.objects.all()


class DescribeForm(Form):
    """What stands outside a draft's tasks."""

    title = forms.CharField(label=_("Name of the programme"), **bounds(Program, "title"))
    source = forms.CharField(label=_("Taken from"), **bounds(Program, "source"))
    round = forms.CharField(
        label=_("Places on the machine, one a line"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text=_("In the order of one walk round it: seat, front, left side."),
    )
    fitments = forms.CharField(
        label=_("More fitments, one a line"),
        required=False,
        max_length=800,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "What only some machines of this model have, and what needs its own service: cab, front loader."
        ),
    )


@dataclass(frozen=True, slots=True)
class Cell:
    """One input of the table."""

    name: str
    value: str
    label: str
    wrong: bool
    wide: bool


@dataclass
class Table:
    """The cells of a table, with the code of the task that a row stands for, by row from 1."""

    cells: list[list[str]]
    codes: dict[int, str] = field(default_factory=dict)
    pasted: bool = False
    refusal: str = ""
    answers: dict[str, str] = field(default_factory=dict)

    def read(self) -> Grid:
        """Return what the table says, by the answers that were given."""
        return maker_table.read(self.cells, self.answers, settled=bool(self.codes))

    def answer_all(self, place: str) -> None:
        """Answer all questions that read the same as the one at a place as that one is, or was likeliest."""
        questions = self.read().questions
        asked = next((question for question in questions if question.place == place), None)
        if asked is None:
            return
        code = asked.answer or asked.choices[0].code
        for question in questions:
            if question.signature == asked.signature and code in {each.code for each in question.choices}:
                self.answers[question.place] = f"{question.digest}-{code}"

    def more(self, *, rows: int = 0, columns: int = 0) -> None:
        """Add empty rows at the end and empty columns before the last."""
        for row in self.cells:
            at = max(1, len(row) - 1)
            row[at:at] = [""] * min(columns, MOST_COLUMNS - len(row))
        width = len(self.cells[0])
        self.cells += [[""] * width for _ in range(min(rows, MOST_ROWS - len(self.cells)))]

    def rows(self, wrong: Sequence[maker_table.Fault] = ()) -> list[dict[str, Any]]:
        """Return the rows for the page: number, code, cells."""
        places = {(fault.row, fault.column) for fault in wrong}
        heads = self.cells[0]
        wide = [read_heading(head).kind in (TASK, NOTE) and bool(head) for head in heads]
        return [
            {
                "number": number,
                "code": self.codes.get(number, ""),
                "is_head": number == 1,
                "cells": [
                    Cell(
                        f"cell-{number}-{at}",
                        value,
                        _named(number, at, heads[at - 1]),
                        (number, at) in places,
                        wide[at - 1],
                    )
                    for at, value in enumerate(row, start=1)
                ],
            }
            for number, row in enumerate(self.cells, start=1)
        ]


def _named(row: int, column: int, heading: str) -> str:
    """Name a cell for who hears the page."""
    if row == 1:
        return gettext("Heading of column {column}").format(column=column)
    return gettext("Row {row}, {heading}").format(row=row, heading=heading or column)


def table_from(request: HttpRequest, *, fresh: Table) -> Table:
    """Return the table of a request: what was pasted or loaded if anything was, else what the inputs held."""
    if request.method != "POST":
        return fresh
    typed = _typed(request.POST) or fresh
    upload = request.FILES.get("file")
    written, separator = request.POST.get("pasted", "").replace("\r\n", "\n"), "\t"
    if upload is not None and request.POST.get("do") == "read":
        if (upload.size or 0) > LARGEST:
            typed.refusal = gettext(
                "The file is larger than 1 MB, far more than a table needs. Is it the right file?"
            )
            return typed
        try:
            written = upload.read().decode("utf-8-sig")
        except UnicodeDecodeError:
            typed.refusal = gettext(
                "The file is not text in UTF-8. Save it as “CSV UTF-8” and choose it again."
            )
            return typed
        top = first_rows(written)
        separator = "\t" if maker_table.stands_in_columns(top) else separator_of(top)
    if not written.strip():
        return typed
    try:
        cells = maker_table.cells(written, separator)
    except maker_table.TooLarge as error:
        typed.refusal = str(error)
        return typed
    if not cells:
        return typed
    return Table(cells, pasted=True)


def _typed(data: Mapping[str, str]) -> Table | None:
    try:
        rows, columns = int(data.get("rows", "")), int(data.get("columns", ""))
    except ValueError:
        return None
    if not (0 < rows <= MOST_ROWS and 0 < columns <= MOST_COLUMNS):
        return None
    cells = [
        [" ".join(data.get(f"cell-{row}-{at}", "").split()) for at in range(1, columns + 1)]
        for row in range(1, rows + 1)
    ]
    answers = {
        name.removeprefix("answer-"): value for name, value in data.items() if name.startswith("answer-")
    }
    codes = {row: code for row in range(2, rows + 1) if (code := data.get(f"code-{row}"))}
    return Table(cells, codes, answers=answers)
