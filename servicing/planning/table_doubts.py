"""What words of an interval may mean, and why that isn't certain."""

from dataclasses import dataclass

from servicing.planning.language import gettext as _
from servicing.planning.table_marks import Marked

RANGE, KM, WEEKLY, EVENT, LOOSE, LATER, BARE, SEVERAL, SEVERE, WORDY, UNITLESS = (
    *("range", "km", "weeks", "event", "loose", "later", "bare", "several", "severe", "words", "unitless"),
)


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read the words: marks, or when it is done where no hours or months say so."""

    marks: tuple[Marked, ...] = ()
    when: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """What words may mean, the likeliest first; doubt: why that is not certain, "" where it is.

    rest: whether words stand there that are no part of an interval. keep: whether the interval's own words
    say more than it: `before each use`.
    """

    readings: tuple[Reading, ...]
    doubt: str = ""
    rest: bool = False
    keep: bool = False

    @property
    def first(self) -> Reading:
        """The likeliest reading."""
        return self.readings[0]


def why(doubt: str) -> str:
    """Return in words why a reading isn't certain."""
    said = {
        RANGE: _("It names a range. Which end counts?"),
        KM: _("Kilometres can't be counted here. What counts instead?"),
        WEEKLY: _("Weeks and days that make no whole months can't be counted. What counts instead?"),
        EVENT: _("It depends on other work, not on hours or months."),
        LOOSE: _("Some of these words aren't known. Is this what they mean?"),
        LATER: _("It says whichever comes last; only whichever comes first can be counted."),
        BARE: _("Is it due once, or each time?"),
        SEVERAL: _("It names several intervals of one kind. Which counts?"),
        SEVERE: _("It names hard use. Is that dust, or heavy work?"),
        UNITLESS: _("The number has no unit. Are these hours, months or years?"),
        WORDY: _("These words name no hours and no months. Shall they stay as they are?"),
    }
    return said[doubt]
