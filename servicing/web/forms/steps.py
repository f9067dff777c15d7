"""The closing form as it is filled in on a phone, one step after the other."""

from typing import Any

from django.utils.translation import gettext as _

from servicing.measurements import limits
from servicing.measurements.retest import is_grave
from servicing.models import Line
from servicing.web.forms.closing import ClosingForm
from servicing.workorders import LineEntry


class StepsForm(ClosingForm):
    """The same fields under the same names; what the tasks ask for is proposed until parts are recorded."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        proposed = not self.order.parts.exists()
        for part in self.parts:
            field = self.fields[f"parts-{part.pk}-quantity"]
            if proposed and part.planned is not None:
                field.initial = limits.shown(part.planned)
                field.widget.attrs["data-proposed"] = "yes"
        for name, field in self.fields.items():
            if name.endswith(("-note", "-reason")):
                field.widget.attrs |= {"autocapitalize": "sentences", "spellcheck": "true", "rows": 3}

    def row_of(self, line: Line) -> dict[str, Any]:
        """The bound fields of one line."""
        row = next(self._row(row) for row in self.sheet.lines if row.line.pk == line.pk)
        for each in row["checks"]:
            each["check_name"] = f"lines-{line.pk}-checks-{each['about'].check.pk}"
        row["shown"] = self.shown(f"lines-{line.pk}-")
        return row

    @property
    def shown_end(self) -> str:
        """What is recorded of parts and minutes."""
        return self.shown("parts-", "labour-")

    def entry_of(self, line: Line) -> LineEntry:
        """What was entered for one line."""
        return next(entry for entry in self.entries().lines if entry.line == line.pk)

    def labels(self) -> dict[str, str]:
        """What each field asks, to show a value away from its field but under the title of its line."""
        labels = {name: str(field.label) for name, field in self.fields.items() if name != "revision"}
        of_a_line = {
            "outcome": _("Outcome"),
            "reason": _("Why it is deferred, or what the dealer should look at"),
            "deferred_until": _("Deferred until"),
            "note": _("Note"),
        }
        for row in self.sheet.lines:
            labels |= {f"lines-{row.line.pk}-{name}": label for name, label in of_a_line.items()}
        return labels

    def judging(self) -> dict[str, dict[str, Any]]:
        """What passes, by the field name of each check: the rules by which entries are recorded, as data.

        `safety`: a failure stops the work. `grave`: it may be left failing, for it tags the machine out.
        """
        return {
            f"lines-{row.line.pk}-checks-{each.check.pk}": {
                "safety": each.check.safety,
                "grave": is_grave(each.check),
                **limits.Rule.of(each.check).as_data(),
            }
            for row in self.sheet.lines
            for each in row.checks
        }
