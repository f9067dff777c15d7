"""What a file of readings leaves to ask, as sentences, and the columns between which a person chooses."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.imports.headings import look_alike, normal
from fleet.imports.plan import ABOVE, WITHIN, YEAR, Plan, headings
from fleet.imports.table import FileRow, as_text

EXAMPLES = 3
ALIKE = {
    "odometer": gettext_lazy("looks like an odometer"),
    "next": gettext_lazy("looks like the next service"),
    "last": gettext_lazy("looks like an earlier reading or service"),
    "start": gettext_lazy("looks like the hours at the start"),
    "end": gettext_lazy("looks like the hours at the end"),
    "daily": gettext_lazy("looks like the hours of a day"),
    "fuel": gettext_lazy("looks like fuel"),
    "area": gettext_lazy("looks like an area"),
    "price": gettext_lazy("looks like an amount of money"),
}


@dataclass(frozen=True, slots=True)
class Candidate:
    """A column that may be the meter: its name, what its heading makes of it, and some of its cells."""

    name: str
    alike: str
    examples: list[str]


def candidates(sample: Sequence[FileRow], plan: Plan) -> list[Candidate]:
    """The columns that may be the meter, while that is asked."""
    if plan.hours is not None:
        return []
    names = headings(sample, plan)
    found = []
    for place in plan.between:
        if place >= len(names):
            continue
        cells = [row.cells[place] for row in sample[plan.heading :] if place < len(row.cells)]
        examples = [as_text(cell) for cell in cells if cell not in (None, "")][:EXAMPLES]
        alike = ALIKE.get(look_alike(normal(names[place])), "")
        if place in plan.against:
            alike = _("headed as hours, but its figures don't follow the earlier readings")
        found.append(Candidate(names[place], str(alike), examples))
    return found


def asked(sample: Sequence[FileRow], plan: Plan) -> list[str]:
    """What has to be said before anything is shown, as sentences."""
    found = []
    if plan.machine is None:
        found.append(_("Which column names the machine?"))
    if plan.taken_at is None:
        found.append(_("Which column holds the day on which the meter was read?"))
    if plan.hours is None:
        found.append(_("Which column is what the hour meter showed?"))
    if not plan.order and plan.mixed:
        found.append(
            _("Some dates can only have the day first, others only the month. How are the others written?")
        )
    elif not plan.order:
        found.append(_("Does the day or the month come first in its dates?"))
    if not plan.decimal:
        found.append(_("Does a point or a comma part its hours from their fraction?"))
    if YEAR in plan.open:
        found.append(_("Of which year are the dates that name none?"))
    if WITHIN in plan.open:
        found.append(_("Of which day are figures that name only a month or a year?"))
    if ABOVE in plan.open:
        found.append(_("Some rows leave the day or the machine blank. Is it that of the row above?"))
    return found
