"""A list of machines as it was typed: its columns by what they hold, and the words of every cell."""

from dataclasses import dataclass, field

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

TAG, TYPE, MAKER, MODEL, CATEGORY = "tag", "type", "maker", "model", "category"
SERIAL, PIN, HOURS, HOURS_DAY, HOURS_BEFORE = "serial", "pin", "hours", "hours_day", "hours_before"
SINCE, PRICE, YARD, FOR_HIRE, CONDITION, NOTE = "since", "price", "yard", "for_hire", "condition", "note"

NAMES = {
    TAG: _("Fleet number"),
    TYPE: _("Make and model"),
    MAKER: _("Maker"),
    MODEL: _("Model"),
    CATEGORY: _("Category"),
    HOURS: _("Hours now"),
    HOURS_DAY: _("Hours read on"),
    HOURS_BEFORE: _("Hours when it came"),
    SINCE: _("In service since"),
    YARD: _("Yard"),
    SERIAL: _("Serial number"),
    PIN: pgettext_lazy("identification number", "PIN"),
    PRICE: _("Purchase price"),
    FOR_HIRE: _("For hire"),
    CONDITION: _("Works in"),
    NOTE: _("Note"),
}
"""What a column may hold, in the order in which the columns are shown."""

ALWAYS = (TAG, HOURS, SINCE, YARD)
MOST_ROWS = 500
MOST_COLUMNS = 40
LONGEST = 2000  # characters of a cell
MORE_ROWS = 5


def column_order(found: set[str]) -> list[str]:
    """Return the columns of a table that holds these: in their order, with those every machine needs."""
    named = {TYPE} if TYPE in found else {MAKER, MODEL}
    return [column for column in NAMES if column in found | named | set(ALWAYS)]


@dataclass
class Listing:
    """The table. Each row holds what was typed, by column; a column that isn't there holds ''.

    heads: what the list itself called a column, where it did. left: what of the list wasn't taken over, in
    words.
    """

    columns: list[str]
    rows: list[dict[str, str]]
    heads: dict[str, str] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)

    def filled(self) -> list[tuple[int, dict[str, str]]]:
        """The rows in which anything was typed, each with its number from 1."""
        return [(number, row) for number, row in enumerate(self.rows, start=1) if any(row.values())]

    def more(self) -> None:
        """Add empty rows at the end."""
        room = min(MORE_ROWS, MOST_ROWS - len(self.rows))
        self.rows += [dict.fromkeys(self.columns, "") for _row in range(room)]
