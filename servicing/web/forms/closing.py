"""The closing form: every line with its outcome, every check beside its limit, parts, minutes and hours."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, Stale, WrongState
from fleet.web.forms.fields import HoursField
from servicing.job_sheet.build import JobSheet, SheetCheck, SheetLine
from servicing.measurements import limits
from servicing.models import Check, CheckResult, Line, Part, Technician
from servicing.web.forms.check_values import Figure, Measured, Minutes, word_field
from servicing.web.forms.meeting import QUESTION, MeetsOthers, path_of
from servicing.web.forms.orders import DAY, technicians
from servicing.workorders import (
    SENTENCES,
    CheckEntry,
    Entries,
    LabourEntry,
    LineEntry,
    NotReady,
    PartEntry,
    Problem,
)

FURTHER_PARTS = 3
FURTHER_PEOPLE = 2


class ClosingForm(MeetsOthers):
    """Built from an order's sheet; what was saved before is filled in.

    The names of its fields are the paths of servicing.workorders.Problem, joined by hyphens.
    """

    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, sheet: JobSheet, tomorrow: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sheet = sheet
        self.order = sheet.order
        self.fields["revision"].initial = self.order.revision
        self.tomorrow = tomorrow
        for row in sheet.lines:
            self._add_line(row.line)
            for each in row.checks:
                self._add_check(row.line, each)
        self.parts = self._add_parts()
        self.people = self._add_people()
        self.fields["hours"] = HoursField(label=_("The hour meter shows"), required=False)
        self.fields["hours_confirmed"] = forms.BooleanField(
            required=False,
            label=_("I read the meter again and it does show this. Someone can decide about it later."),
        )

    # ---- what the page shows

    def rows(self) -> list[dict[str, Any]]:
        """Every line with its bound fields, in the order of work.

        Unfolded are the first line without an outcome and each that has something wrong, asked or not yet
        recorded.
        """
        rows = [self._row(row) for row in self.sheet.lines]
        first = next((row for row in rows if not row["outcome"].value()), None)
        typed = set(self.changed_data) if self.is_bound else set()
        for row in rows:
            own = f"lines-{row['line'].pk}-"
            row["wrong"] = any(name.startswith((own, f"{QUESTION}{own}")) for name in self.errors)
            met = any(name.startswith(own) for name in (*typed, *self.meetings))
            row["unfolded"] = row is first or row["wrong"] or met
        return rows

    def part_rows(self) -> list[tuple[Any, Any]]:
        """Parts that the tasks ask for, each with its bound field."""
        return [(part, self[_name("parts", part.pk, "quantity")]) for part in self.parts]

    def further_parts(self) -> list[tuple[Any, Any]]:
        """Free rows for other parts."""
        return [(self[f"further-{n}-part"], self[f"further-{n}-quantity"]) for n in range(FURTHER_PARTS)]

    def people_rows(self) -> list[Any]:
        """Minutes of the people known to work on it."""
        return [self[_name("labour", person.pk, "minutes")] for person in self.people]

    def further_people(self) -> list[tuple[Any, Any]]:
        """Free rows for helpers."""
        return [(self[f"helper-{n}-technician"], self[f"helper-{n}-minutes"]) for n in range(FURTHER_PEOPLE)]

    # ---- what the process gets, and says

    def entries(self) -> Entries:
        """What was entered, as the process takes it; a field that can't be read is named as such.

        Call it once the form has been validated.
        """
        got = getattr(self, "cleaned_data", {}).get
        parts = [
            PartEntry(part.pk, value) for part in self.parts if (value := got(f"parts-{part.pk}-quantity"))
        ]
        for n in range(FURTHER_PARTS):
            part, quantity = got(f"further-{n}-part"), got(f"further-{n}-quantity")
            if part and quantity:
                parts.append(PartEntry(part.pk, quantity))
        labour = [
            LabourEntry(person.pk, value)
            for person in self.people
            if (value := got(f"labour-{person.pk}-minutes"))
        ]
        for n in range(FURTHER_PEOPLE):
            person, minutes = got(f"helper-{n}-technician"), got(f"helper-{n}-minutes")
            if person and minutes:
                labour.append(LabourEntry(person.pk, minutes))
        return Entries(
            lines=[self._entry(row) for row in self.sheet.lines],
            parts=parts,
            labour=labour,
            hours=got("hours"),
            hours_confirmed=bool(got("hours_confirmed")),
            unread=[
                Problem(path_of(name), str(wrong[0]))
                for name, wrong in self.errors.items()
                if name in self.fields
            ],
            undecided=self.unanswered(),
        )

    def clean(self) -> dict[str, Any]:
        """Ask for the other half of a row of which only one half was filled in."""
        for n in range(FURTHER_PARTS):
            self._both(f"further-{n}-part", SENTENCES["part"], f"further-{n}-quantity", SENTENCES["quantity"])
        for n in range(FURTHER_PEOPLE):
            self._both(
                f"helper-{n}-technician", SENTENCES["technician"], f"helper-{n}-minutes", SENTENCES["worked"]
            )
        return self.cleaned_data

    def show_refusal(self, error: FleetError) -> tuple[int, int]:
        """Say what the process found, where it belongs; return the answer's status and the order's revision.

        A field that has an error already is left alone. The revision is the one these entries know.
        """
        if isinstance(error, NotReady):
            for problem in error.problems:
                name = self._field_of(problem)
                if name is None or name not in self.errors:
                    self.add_error(name, problem.sentence)
            return 422, error.revision or self.made_from
        if isinstance(error, Stale | WrongState):
            self.add_error(None, error.sentence)
            return 409, self.made_from
        self.add_error(error.field if error.field in self.fields else None, error.sentence)
        return 422, self.made_from

    # ---- building

    def _add_line(self, line: Line) -> None:
        def add(name: str, made: forms.Field, initial: Any) -> None:
            made.initial = initial
            self.fields[_name("lines", line.pk, name)] = made

        outcomes = [
            choice for choice in Line.Outcome.choices if line.task or choice[0] != Line.Outcome.NOT_FITTED
        ]
        add(
            "outcome",
            forms.ChoiceField(
                label=_("{line}: outcome").format(line=line.title),
                required=False,
                choices=outcomes,
                widget=forms.RadioSelect,
            ),
            line.outcome,
        )
        add(
            "reason",
            forms.CharField(
                label=_("{line}: why it is deferred, or what the dealer should look at").format(
                    line=line.title
                ),
                required=False,
                max_length=500,
                widget=forms.Textarea(attrs={"rows": 2}),
            ),
            line.reason,
        )
        said = _("{line}: deferred until").format(line=line.title)
        until = forms.DateField(label=said, required=False, **DAY)
        until.widget.attrs["min"] = self.tomorrow.isoformat()
        add("deferred_until", until, line.deferred_until)
        note = forms.CharField(
            label=_("{line}: note").format(line=line.title),
            required=False,
            max_length=1000,
            widget=forms.Textarea(attrs={"rows": 2}),
        )
        add("note", note, line.note)

    def _add_check(self, line: Line, each: SheetCheck) -> None:
        labels = {"found": _("{check}, as found"), "left": _("{check}, as left")}
        for moment, said in labels.items():
            label = said.format(check=each.check.label)
            self.fields[_name("lines", line.pk, "checks", each.check.pk, moment)] = (
                _number(each.check, each.result, moment, label)
                if each.check.is_numeric
                else _word(each.check, each.result, moment, label)
            )

    def _add_parts(self) -> list[Any]:
        used = {use.part_id: use for use in self.order.parts.select_related("part")}
        self.used = {pk: limits.shown(use.quantity) for pk, use in used.items()}
        planned = {supply.part: supply.quantity for supply in self.sheet.supplies}
        parts = list(Part.objects.with_stocks().filter(pk__in={*used, *planned}).order_by("name", "number"))
        saved = bool(used) or any(row.line.outcome for row in self.sheet.lines)
        for part in parts:
            quantity = used[part.pk].quantity if part.pk in used else None if saved else planned[part.pk]
            part.planned = planned.get(part.pk)
            self.fields[_name("parts", part.pk, "quantity")] = Figure(
                unit=part.unit, label=str(part), max_length=12, initial=_shown(quantity)
            )
        for n in range(FURTHER_PARTS):
            self.fields[f"further-{n}-part"] = forms.ModelChoiceField(
                Part.objects.all(), required=False, label=_("Another part"), empty_label=_("No other part")
            )
            self.fields[f"further-{n}-quantity"] = Figure(unit="", label=_("Quantity"), max_length=12)
        return parts

    def _add_people(self) -> list[Technician]:
        spent = {row.technician_id: row.minutes for row in self.order.labour.all()}
        known = {pk for pk in (*spent, self.order.technician_id) if pk is not None}
        people = list(Technician.objects.filter(pk__in=known).select_related("member__user"))
        for person in people:
            self.fields[_name("labour", person.pk, "minutes")] = Minutes(
                label=str(person), initial=spent.get(person.pk)
            )
        for n in range(FURTHER_PEOPLE):
            self.fields[f"helper-{n}-technician"] = forms.ModelChoiceField(
                technicians(), required=False, label=_("Helper"), empty_label=_("No one else")
            )
            self.fields[f"helper-{n}-minutes"] = Minutes(label=_("Minutes"))
        return people

    def _initial(self, name: str) -> Any:
        """What is recorded at a field; what the tasks ask for is proposed only."""
        if name.startswith("parts-"):
            return self.used.get(int(name.split("-")[1]))
        return super()._initial(name)

    def _proposed(self, name: str) -> tuple[Any, ...]:
        if not name.startswith("parts-"):
            return ()
        pk = int(name.split("-")[1])
        return next(((part.planned,) for part in self.parts if part.pk == pk and part.planned), ())

    # ---- reading

    def _row(self, row: SheetLine) -> dict[str, Any]:
        names = ("outcome", "reason", "deferred_until", "note")
        fields = {name: self[_name("lines", row.line.pk, name)] for name in names}
        checks = [
            {
                "about": each,
                "found": self[_name("lines", row.line.pk, "checks", each.check.pk, "found")],
                "left": self[_name("lines", row.line.pk, "checks", each.check.pk, "left")],
            }
            for each in row.checks
        ]
        opened = any(fields[name].value() or fields[name].errors for name in names[1:])
        return {"sheet": row, "line": row.line, "checks": checks, "opened": opened, **fields}

    def _entry(self, row: SheetLine) -> LineEntry:
        got = getattr(self, "cleaned_data", {}).get

        def typed(check: Check, moment: str) -> tuple[str, str]:
            value = got(_name("lines", row.line.pk, "checks", check.pk, moment)) or ""
            return value if isinstance(value, tuple) else (value, "")

        return LineEntry(
            line=row.line.pk,
            outcome=got(_name("lines", row.line.pk, "outcome")) or "",
            reason=got(_name("lines", row.line.pk, "reason")) or "",
            deferred_until=got(_name("lines", row.line.pk, "deferred_until")),
            note=got(_name("lines", row.line.pk, "note")) or "",
            checks=[
                CheckEntry(each.check.pk, *typed(each.check, "found"), *typed(each.check, "left"))
                for each in row.checks
            ],
        )

    def _both(self, one: str, ask_one: str, other: str, ask_other: str) -> None:
        if one in self.errors or other in self.errors:
            return
        first, second = self.cleaned_data.get(one), self.cleaned_data.get(other)
        if first and second is None:
            self.add_error(other, ask_other)
        elif second is not None and not first:
            self.add_error(one, ask_one)

    def _field_of(self, problem: Problem) -> str | None:
        name = _name(*problem.path)
        if name in self.fields:
            return name
        kind, number = problem.path[0], problem.path[1] if len(problem.path) > 1 else None
        rows = {
            "parts": ("further", "part", FURTHER_PARTS),
            "labour": ("helper", "technician", FURTHER_PEOPLE),
        }
        if kind in rows:
            prefix, chosen, count = rows[kind]
            for n in range(count):
                row = self.cleaned_data.get(f"{prefix}-{n}-{chosen}")
                field = f"{prefix}-{n}-{problem.path[-1]}"
                if row and row.pk == number and field in self.fields:
                    return field
        return None


def _name(*path: str | int) -> str:
    return "-".join(map(str, path))


def _shown(value: Decimal | None) -> str | None:
    return None if value is None else limits.shown(value)


def _number(check: Check, result: CheckResult | None, moment: str, label: str) -> forms.Field:
    value = getattr(result, f"{moment}_value", None)
    unit = getattr(result, f"{moment}_unit", "") or limits.spelled(check.unit)
    initial = (_shown(value) or "", unit)
    return Measured(limits.units_for(check.unit), label=label, initial=initial)


def _word(check: Check, result: CheckResult | None, moment: str, label: str) -> forms.Field:
    return word_field(
        check.choices,
        unanswered=_("Not checked") if moment == "found" else _("Unchanged"),
        required=False,
        label=label,
        initial=getattr(result, f"{moment}_word", ""),
    )
