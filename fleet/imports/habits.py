"""By what habits a file's days and figures are written: told by the cells that can be read one way alone."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC

from fleet.core.number_reader import COMMA, POINT
from fleet.imports.cell_days import DAY_FIRST, MONTH_FIRST, YEAR_FIRST, Days, NoDay, NoYear, read_moment
from fleet.imports.cell_values import Wrong, read_marked_hours
from fleet.imports.table import Cell, as_text

MOST_HEARD = 50_000  # different cells by which a habit is told
ORDERS = (DAY_FIRST, MONTH_FIRST, YEAR_FIRST)


class Habit:
    """Which of some ways cells are written in: what one way alone can read tells it.

    tells: for each way the first cell that only it can read. open: the first cell that means something else
    by another way. each_tells_all: cells that contradict each other leave a question even where none is open.
    """

    def __init__(
        self, ways: Sequence[str], read: Callable[[Cell, str], object], *, each_tells_all: bool
    ) -> None:
        self._ways, self._read, self._each_tells_all = ways, read, each_tells_all
        self.tells: dict[str, str] = {}
        self.open = ""
        self._heard: set[Cell] = set()

    def hear(self, cell: Cell) -> None:
        """Take a cell into account; one that can't be read either way tells nothing."""
        if cell in (None, "") or cell in self._heard or len(self._heard) > MOST_HEARD:
            return
        self._heard.add(cell)
        found = {}
        for way in self._ways:
            with suppress(Wrong):
                found[way] = self._read(cell, way)
        if len(found) == 1:
            self.tells.setdefault(next(iter(found)), as_text(cell))
        elif len(set(found.values())) > 1 and not self.open:
            self.open = as_text(cell)

    @property
    def mixed(self) -> bool:
        """Whether one cell tells otherwise than another."""
        return len(self.tells) > 1

    def told(self, otherwise: str = "") -> str:
        """The way that the cells tell; '' where they contradict each other and it makes a difference.

        `otherwise` where none tells, unless it makes no difference.
        """
        if len(self.tells) == 1:
            return next(iter(self.tells))
        if self.mixed:
            return "" if self.open or self._each_tells_all else self._ways[0]
        return otherwise if self.open else (otherwise or self._ways[0])


def orders() -> Habit:
    """The order of day and month."""

    def read(cell: Cell, way: str) -> object:
        try:
            return read_moment(cell, None, Days(way), UTC)
        except NoYear:
            return read_moment(cell, None, Days(way, year=2024), UTC)
        except NoDay:
            return None  # a month or a year means the same in every order

    return Habit(ORDERS, read, each_tells_all=True)


def decimals() -> Habit:
    """The decimal mark."""
    return Habit((POINT, COMMA), read_marked_hours, each_tells_all=False)
