"""The closing form as it is filled in on a phone, one step after the other."""

from typing import Any

from fleet.errors import FleetError
from servicing import limits
from servicing.models import Check, Line
from servicing.sheet import SheetCheck
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
                field.initial = limits.plain(part.planned)
                field.widget.attrs["data-proposed"] = "yes"
        for name, field in self.fields.items():
            if name.endswith(("-note", "-reason")):
                field.widget.attrs |= {"autocapitalize": "sentences", "spellcheck": "true", "rows": 3}

    def row_of(self, line: Line) -> dict[str, Any]:
        """The bound fields of one line."""
        row = next(self._row(row) for row in self.sheet.lines if row.line.pk == line.pk)
        for each in row["checks"]:
            each["check_name"] = f"lines-{line.pk}-checks-{each['about'].check.pk}"
        return row

    def entry_of(self, line: Line) -> LineEntry:
        """What was entered for one line."""
        return next(entry for entry in self.entries().lines if entry.line == line.pk)

    def labels(self) -> dict[str, str]:
        """What each field asks, to show a value away from its field but under the title of its line."""
        labels = {name: str(field.label) for name, field in self.fields.items() if name != "revision"}
        for row in self.sheet.lines:
            for name in ("outcome", "reason", "put_off_until", "note"):
                at = f"lines-{row.line.pk}-{name}"
                labels[at] = labels[at].removeprefix(f"{row.line.title}: ").capitalize()
        return labels

    def judging(self) -> dict[str, dict[str, Any]]:
        """What passes, by the field name of each check, for judging on the phone what was just typed.

        A number's limits are exact fractions in every unit it may be typed in, as [lower, upper]; a word
        passes or doesn't. What is recorded is judged anew by the process that keeps it.
        """
        return {
            f"lines-{row.line.pk}-checks-{each.check.pk}": {
                "safety": each.check.safety,
                **(_limits(each.check) if each.check.is_numeric else _words(each)),
            }
            for row in self.sheet.lines
            for each in row.checks
        }


def _limits(check: Check) -> dict[str, Any]:
    units: dict[str, list[str | None]] = {}
    for unit in limits.units_for(check.unit):
        try:
            units[unit] = [
                None if limit is None else str(limits.comparable(limit, check.unit, unit))
                for limit in (check.lower, check.upper)
            ]
        except FleetError:
            continue
    return {"units": units}


def _words(each: SheetCheck) -> dict[str, Any]:
    return {"words": {choice["value"]: bool(choice["passes"]) for choice in limits.words(each.check.choices)}}
