"""A list of machines as it is pasted, sent and typed: every cell is an input, and every one comes back."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.number_reader import read_whole
from fleet.imports.small_file import MOST_BYTES
from fleet.machine_list import columns as telling
from fleet.machine_list import grid as reading
from fleet.machine_list.answers import COMMA, POINT, Answers, ModelAnswer
from fleet.machine_list.columns import Told
from fleet.machine_list.grid import MOST_TITLES, Grid, one_line
from fleet.machine_list.judging import Judged
from fleet.machine_list.listing import (
    HOURS,
    MAKER,
    MODEL,
    MOST_COLUMNS,
    MOST_ROWS,
    NAMES,
    NOTE,
    PRICE,
    TAG,
    TYPE,
    Listing,
)

MODEL_FIELD = re.compile(r"model-([0-9a-f]{12})-category")
YARD_FIELD = re.compile(r"yard-([0-9a-f]{12})")
ORDERS = ("dmy", "mdy")
WIDE = (TYPE, NOTE)
IN_SHORT = (TAG, TYPE, MAKER, MODEL, HOURS)  # of a machine, where a card of it is folded
SHOWN = 3  # values of a column, where it is asked what that holds


@dataclass(frozen=True)
class Cell:
    """One input of the table."""

    name: str
    column: str
    value: str
    title: str
    label: str
    problem: str
    remark: str
    wide: bool
    figure: bool


@dataclass(frozen=True)
class Column:
    """A column of a list of which it is asked what it holds."""

    name: str
    title: str
    values: list[str]
    chosen: str


def sent_grid(text: str, upload: UploadedFile | None) -> Grid:
    """Return the cells of what was pasted or sent; a file goes before. Raises FleetError on its field."""
    field = "file" if upload is not None else "pasted"
    try:
        if upload is not None:
            too_large = (upload.size or 0) > MOST_BYTES
            return reading.from_bytes(
                upload.read(MOST_BYTES + 1) if too_large else upload.read(), str(upload)
            )
        if not text.strip():
            raise FleetError(_("Paste your list, or choose a file."))
        return reading.from_text(text)
    except FleetError as error:
        raise FleetError(error.sentence, field=field) from error


def kept_grid(data: Mapping[str, str]) -> tuple[Grid, Told]:
    """Return the cells that the page about columns kept, with what was chosen. Raises FleetError."""
    rows = [line.split("\t") for line in data.get("grid", "").replace("\r\n", "\n").split("\n") if line]
    width = max((len(row) for row in rows), default=0)
    if not rows or len(rows) > MOST_ROWS + MOST_TITLES + 1 or width > MOST_COLUMNS:
        raise FleetError(_("Paste your list, or choose a file."), field="pasted")
    rows = [[one_line(cell) for cell in row] + [""] * (width - len(row)) for row in rows]
    chosen = [data.get(f"column-{place}", "") for place in range(1, width + 1)]
    head = min(read_whole(data.get("head", "")) or 0, len(rows))
    named_at = read_whole(data.get("named_at", ""))
    if data.get("first_is_heading"):
        head, named_at = 1, 0
    if named_at is not None and named_at >= head:
        named_at = None
    names = [""] * width if named_at is None else rows[named_at]
    return Grid(rows), Told([name if name in NAMES else "" for name in chosen], head, named_at, True, names)


def written(grid: Grid) -> str:
    """The cells as the page about columns keeps them."""
    return "\n".join("\t".join(row) for row in grid.rows)


def asked_columns(grid: Grid, told: Told) -> list[Column]:
    """The columns of a list, each with its first values."""
    rows = grid.rows[told.head :]
    return [
        Column(
            f"column-{place + 1}",
            told.names[place] or _("Column {number}").format(number=place + 1),
            [row[place] for row in rows if row[place]][:SHOWN],
            chosen,
        )
        for place, chosen in enumerate(told.columns)
    ]


def settled(grid: Grid, told: Told) -> Listing:
    """Return the table of a list, with the sheets that weren't read among what is left. Raises FleetError."""
    table = telling.listing(grid, told)
    table.left += [_("the sheet {name}").format(name=name) for name in grid.left]
    return table


def typed_table(data: Mapping[str, str]) -> Listing | None:
    """Return the table that the inputs hold; None where there is none."""
    found = [name for name in data.get("columns", "").split(",") if name in NAMES]
    count = read_whole(data.get("rows", "")) or 0
    if not found or not 0 < count <= MOST_ROWS:
        return None
    rows = [
        {column: one_line(data.get(f"cell-{row}-{column}", "")) for column in dict.fromkeys(found)}
        for row in range(1, count + 1)
    ]
    heads = {PRICE: one_line(data["head-price"])} if data.get("head-price") else {}
    return Listing(list(dict.fromkeys(found)), rows, heads)


def answered(data: Mapping[str, str]) -> Answers:
    """Return what was answered about the list; anything else than an answer is none."""
    models = {
        match[1]: ModelAnswer(
            one_line(data.get(f"model-{match[1]}-maker", "")),
            one_line(data.get(f"model-{match[1]}-model", "")),
            data[name],
        )
        for name in data
        if (match := MODEL_FIELD.fullmatch(name))
    }
    order, decimal = data.get("order", ""), data.get("decimal", "")
    return Answers(
        order=order if order in ORDERS else "",
        decimal=decimal if decimal in (POINT, COMMA) else "",
        since_unknown=bool(data.get("since_unknown")),
        leave_known=bool(data.get("leave_known")),
        in_currency=bool(data.get("in_currency")),
        models=models,
        yards={match[1]: data[name] for name in data if (match := YARD_FIELD.fullmatch(name))},
        unnamed_yard=data.get("unnamed_yard", ""),
        new_yard=one_line(data.get("new_yard", "")),
    )


def table_rows(table: Listing, judged: Judged) -> list[dict[str, Any]]:
    """Return the rows for the page."""
    return [
        {
            "number": number,
            "words": " ".join(row[name] for name in IN_SHORT if row.get(name)),
            "has_problem": number in judged.problems or not any(row.values()),
            "left_out": judged.left_out and number in judged.here,
            "cells": [_cell(number, column, row[column], judged) for column in table.columns],
        }
        for number, row in enumerate(table.rows, start=1)
    ]


def problems(judged: Judged) -> list[dict[str, str]]:
    """What is wrong, cell by cell; machines that are here already are asked about together."""
    return [
        {
            "cell": f"cell-{number}-{column}",
            "place": _("Row {row}, {column}").format(row=number, column=NAMES[column]),
            "sentence": sentence,
        }
        for number in sorted(judged.problems)
        for column, sentence in judged.problems[number].items()
        if not (column == "tag" and number in judged.here)
    ]


def _cell(number: int, column: str, value: str, judged: Judged) -> Cell:
    return Cell(
        name=f"cell-{number}-{column}",
        column=column,
        value=value,
        title=str(NAMES[column]),
        label=_("Row {row}, {column}").format(row=number, column=NAMES[column]),
        problem=judged.problems.get(number, {}).get(column, ""),
        remark=judged.remarks.get(number, {}).get(column, ""),
        wide=column in WIDE,
        figure=column in (HOURS, PRICE),
    )
