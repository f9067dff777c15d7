"""A row of a maker's table while it is read: what all rows share, what was asked and found."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from zlib import crc32

from servicing.planning.table_grid import answered
from servicing.planning.table_layout import Layout
from servicing.planning.table_marks import Marked


@dataclass(slots=True)
class Table:
    """What all rows share. signs: how often each sign stands in the table. life: the hours of a life table.

    settled: it was drawn by the house from tasks, so that their words were read before.
    """

    layout: Layout
    signs: Mapping[str, int]
    life: tuple[Decimal, ...] = ()
    life_shown: bool = False
    only_circles: bool = False
    circles_first: bool = False
    settled: bool = False


@dataclass(slots=True)
class Part:
    """One act of a row, with its marks; life: dots in a life table; named: footnotes of its marks."""

    marks: list[Marked] = field(default_factory=list)
    dots: list[Decimal] = field(default_factory=list)
    when: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    replaces: bool = False
    remarks: list[str] = field(default_factory=list)
    named: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Row:
    """A row being read with certain answers; where one is missing it is noted and the likeliest taken."""

    number: int
    cells: Sequence[str]
    answers: Mapping[str, str]
    carried: str = ""
    above: str = ""
    asked: list[tuple[str, int, str, str, list[str]]] = field(default_factory=list)
    faults: list[tuple[int, str]] = field(default_factory=list)
    title: str = ""
    heading_at: int = 0
    single: bool = False

    @property
    def digest(self) -> str:
        """A short sum of the words, by which an answer knows that they are still the same."""
        return f"{crc32('|'.join(self.cells).encode()):08x}"

    def ask(self, at: int, sentence: str, signature: str, codes: list[str]) -> str:
        """Return which of these codes holds, the first where nobody said; at: the column from 0."""
        for place, _at, _said, earlier, _codes in self.asked:
            if earlier == signature:
                code = answered(self.answers, place, self.digest)
                return code if code in codes else codes[0]
        taken = {place for place, *_rest in self.asked}
        place = next(
            place
            for letter in ("", *"bcdefghijklmnop")
            if (place := f"{self.number + 1}.{at + 1}{letter}") not in taken
        )
        self.asked.append((place, at, sentence, signature, codes))
        code = answered(self.answers, place, self.digest)
        return code if code in codes else codes[0]
