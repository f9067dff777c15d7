"""Which column of a list holds what: told by its headings, else by what stands in it, else asked."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.imports.cell_values import UNIT
from fleet.imports.headings import is_total
from fleet.machine_list import cells
from fleet.machine_list.category_words import category_of
from fleet.machine_list.grid import Grid, too_many
from fleet.machine_list.heading_words import (
    BUILT,
    DATE,
    MACHINE,
    NOT_READ,
    PLACE,
    WEAK_TAG,
    column_of,
    is_units,
)
from fleet.machine_list.known import Known
from fleet.machine_list.listing import (
    CATEGORY,
    FOR_HIRE,
    HOURS,
    HOURS_DAY,
    MAKER,
    MODEL,
    MOST_ROWS,
    NAMES,
    PIN,
    PRICE,
    SINCE,
    TAG,
    TYPE,
    YARD,
    Listing,
    column_order,
)
from fleet.models.machine import PIN as PIN_FORM

LOOKED_AT = 15  # rows among which the headings are
LIKE_A_TAG = re.compile(r"[^\W\d_]{0,6}[ \-./_]?\d{1,6}[^\W\d_]?|[^\W\d_]{1,4}[ \-]\d{1,3}[ \-]\d{1,4}")
LIKE_A_DAY = re.compile(
    r"\d{1,2}[./-] ?\d{1,2}[./-] ?\d{2,4}|\d{4}-\d{2}-\d{2}|(?:19|20)\d{2}|\d{1,2}[./]\d{4}"
)
LIKE_A_FIGURE = re.compile(r"[\d.,'’\s]+")
DOUBTS = {BUILT, DATE, PLACE, WEAK_TAG, MACHINE, NOT_READ, ""}


@dataclass
class Told:
    """What the columns hold, by place; '' for one that isn't read. open: a person has to say so.

    head: how many rows stand above the machines. named_at: the one among them that holds the headings, from
    0; None where none does. names: the headings.
    """

    columns: list[str]
    head: int
    named_at: int | None
    open: bool = False
    names: list[str] = field(default_factory=list)

    @property
    def named(self) -> bool:
        """Whether the list has headings."""
        return self.named_at is not None


def tell(grid: Grid, known: Known) -> Told:
    """Tell what the columns of a list hold."""
    at = _heading_row(grid.rows)
    if at is None:
        return _by_what_they_hold(grid.rows, known)
    names = grid.rows[at]
    head = at + 1
    if head < len(grid.rows) and is_units(grid.rows[head]):
        head += 1
    rows = grid.rows[head:]
    said = [column_of(name) for name in names]
    columns, open_ = _resolved(said, [_values(rows, place) for place in range(len(names))], known)
    return Told(columns, head, at, open_, names)


def listing(grid: Grid, told: Told) -> Listing:
    """Return the table of a list whose columns are known. Raises FleetError."""
    if len({column for column in told.columns if column}) < len(
        [column for column in told.columns if column]
    ):
        raise FleetError(_("Two columns can't hold the same. Choose again."), field="columns")
    columns = column_order({column for column in told.columns if column})
    table = Listing(columns, [])
    filled = len([column for column in told.columns if column])
    for cells_ in grid.rows[told.head :]:
        row = dict.fromkeys(columns, "") | {
            column: cell for column, cell in zip(told.columns, cells_, strict=True) if column
        }
        words = [cell for cell in cells_ if cell]
        if _is_aside(words, filled) or (told.named and cells_ == told.names):
            table.left.append(" ".join(words)[:60])
        elif any(row.values()):
            table.rows.append(row)
    if len(table.rows) > MOST_ROWS:
        raise FleetError(too_many(), field="list")
    if not table.rows:
        raise FleetError(_("No machine stands in this list."), field="list")
    table.heads = {
        column: told.names[place] for place, column in enumerate(told.columns) if column and told.named
    }
    table.left += [
        told.names[place] for place, column in enumerate(told.columns) if not column and told.named
    ]
    return table


def _is_aside(words: list[str], columns: int) -> bool:
    """Whether a row is a total, or a remark between or below the machines."""
    if not words:
        return True
    if is_total(words[0]):
        return True
    return columns > 2 and len(words) == 1 and (len(words[0].split()) > 2 or len(words[0]) > 30)


def _heading_row(rows: Sequence[Sequence[str]]) -> int | None:
    """The row with the most headings in it, None where none has two."""
    best, most = None, 1
    for at, row in enumerate(rows[:LOOKED_AT]):
        said = {column_of(cell) for cell in row if not any(figure.isdigit() for figure in cell)}
        found = len(said - {"", NOT_READ})
        if found > most and found * 2 >= len([cell for cell in row if cell]):
            best, most = at, found
    return best


def _values(rows: Sequence[Sequence[str]], place: int) -> list[str]:
    """What stands in a column, totals and remarks left out."""
    filled = ((row, [cell for cell in row if cell]) for row in rows)
    return [row[place] for row, words in filled if row[place] and len(words) > 1 and not is_total(words[0])]


def _resolved(said: list[str], values: list[list[str]], known: Known) -> tuple[list[str], bool]:
    """Settle what headings leave in doubt by what stands below them; tell whether a doubt is left."""
    columns = list(said)

    def has(column: str) -> bool:
        return column in columns

    def put(doubt: str, column: str) -> None:
        columns[columns.index(doubt)] = column

    for place, column in enumerate(columns):
        if column == PLACE:
            yes = values[place] and all(cells.is_yes_or_no(value) for value in values[place])
            columns[place] = FOR_HIRE if yes else YARD
        elif column == MACHINE:
            is_tag = not has(TAG) and _each_its_own(values[place], LIKE_A_TAG)
            columns[place] = TAG if is_tag else TYPE if not (has(TYPE) or has(MODEL)) else ""
    if columns.count(WEAK_TAG) == 1 and not has(TAG):
        put(WEAK_TAG, TAG)
    if has(TYPE) and _mostly(values[columns.index(TYPE)], _is_category) and not has(CATEGORY):
        put(TYPE, CATEGORY)
    if has(TYPE) and has(MAKER) and not has(MODEL):
        put(TYPE, MODEL)
    if has(MODEL) and not has(MAKER) and not has(TYPE):
        put(MODEL, TYPE)
    if has(TYPE) and has(MODEL):
        put(TYPE, "")
    if has(MAKER) and not has(MODEL) and not has(TYPE):
        put(MAKER, TYPE)
    doubts = [column for column in (BUILT, DATE) if has(column)]
    open_ = False
    if doubts and not has(SINCE):
        put(doubts[0], SINCE)
        open_ = True
    twice = {column for column in columns if column in NAMES and columns.count(column) > 1}
    columns = ["" if column in DOUBTS or column in twice else column for column in columns]
    lacking = TAG not in columns or not {TYPE, MODEL} & set(columns)
    return columns, open_ or bool(twice) or lacking


def _by_what_they_hold(rows: Sequence[Sequence[str]], known: Known) -> Told:
    """Tell the columns of a list without headings; what isn't plain is asked."""
    width = len(rows[0])
    values = [_values(rows, place) or [row[place] for row in rows if row[place]] for place in range(width)]
    columns = [""] * width
    figures = [place for place in range(width) if _mostly(values[place], _is_figure)]
    days = [place for place in range(width) if _mostly(values[place], _is_day)]
    for place in range(width):
        if _mostly(values[place], _is_pin):
            columns[place] = PIN
        elif _mostly(values[place], _is_category):
            columns[place] = CATEGORY
        elif _mostly(values[place], lambda value: known.yard_called(value) is not None):
            columns[place] = YARD
        elif _mostly(values[place], _is_price):
            columns[place] = PRICE
    open_ = len(days) > 1
    if days:
        columns[days[0]] = SINCE
        if len(days) > 1:
            columns[days[1]] = HOURS_DAY
    tags = [
        place
        for place in range(width)
        if not columns[place] and _each_its_own(values[place], LIKE_A_TAG) and place not in figures
    ]
    if tags:
        columns[tags[0]] = TAG
        open_ = open_ or len(tags) > 1
    hours = [place for place in figures if not columns[place]]
    if len(hours) == 1:
        columns[hours[0]] = HOURS
    words = [place for place in range(width) if not columns[place] and place not in figures]
    if len(words) == 1:
        columns[words[0]] = TYPE
    elif len(words) == 2 and words[1] == words[0] + 1 and len(rows) > 1:
        columns[words[0]], columns[words[1]] = MAKER, MODEL
        open_ = True
    left = [place for place in range(width) if not columns[place] and values[place]]
    twice = {column for column in columns if column and columns.count(column) > 1}
    columns = ["" if column in twice else column for column in columns]
    lacking = TAG not in columns or not {TYPE, MODEL} & set(columns)
    return Told(columns, 0, None, open_ or bool(left or twice) or lacking, [""] * width)


def _mostly(values: Sequence[str], test: Callable[[str], bool]) -> bool:
    return bool(values) and sum(map(test, values)) * 5 >= len(values) * 4


def _each_its_own(values: Sequence[str], form: re.Pattern[str]) -> bool:
    like = _mostly(values, lambda value: form.fullmatch(value) is not None)
    return like and len(set(values)) * 10 >= len(values) * 9


def _is_category(value: str) -> bool:
    return bool(category_of(value)) and not any(figure.isdigit() for figure in value)


def _is_pin(value: str) -> bool:
    return PIN_FORM.fullmatch("".join(value.split()).upper()) is not None


def _is_day(value: str) -> bool:
    return LIKE_A_DAY.fullmatch(value.strip()) is not None


def _is_figure(value: str) -> bool:
    return LIKE_A_FIGURE.fullmatch(UNIT.sub("", value.strip())) is not None and not _is_day(value)


def _is_price(value: str) -> bool:
    return (
        bool(cells.currency_in(value))
        and any(figure.isdigit() for figure in value)
        and not UNIT.search(value)
    )
