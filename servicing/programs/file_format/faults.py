"""What is wrong with a program file, place by place."""

from collections.abc import Callable, Sequence
from typing import Any

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.usage.figures import POINT, grouped, writing
from servicing.programs.file_format.limits import LONGEST_SAID


class ProgramFaults(FleetError):
    """A program that can't be loaded. `faults` says each thing to put right, with its place in the file."""

    code = "program-refused"

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = list(faults)


class Faults:
    """Collects faults; `at` gives a collector for a place further in that reports to the same list."""

    def __init__(self, place: str = "", said: list[str] | None = None, line: int | None = None) -> None:
        self.place = place
        self.said: list[str] = [] if said is None else said
        self.line = line

    def at(self, place: str, line: int | None = None) -> "Faults":
        """Return a collector for a place inside this one, in a line of the file where that is known."""
        return Faults(f"{self.place}: {place}" if self.place else place, self.said, line or self.line)

    def on(self, line: int | None) -> "Faults":
        """Return a collector for the same place that names another line."""
        return Faults(self.place, self.said, line or self.line)

    def say(self, sentence: str) -> None:
        """Note a fault at this place."""
        spoken = f"{self.place}: {sentence}" if self.place else sentence
        in_line = _("line {number}: {sentence}")
        self.said.append(in_line.format(number=self.line, sentence=spoken) if self.line else spoken)


def said(value: Any, written: Callable[[Any], str] = str) -> str:
    """What a person wrote, as much of it as is repeated to them."""
    try:
        text = written(value)
    except ValueError:  # Python writes no number of more than 4,300 digits
        text = _("a number of thousands of digits")
    return text if len(text) <= LONGEST_SAID else f"{text[: LONGEST_SAID - 1]}…"


def count(number: int) -> str:
    """A whole number, with a comma between thousands where that isn't the decimal mark."""
    return f"{number:,}" if writing().decimal_mark == POINT else grouped(number, 0)
