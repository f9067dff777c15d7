"""One task of a draft: when it falls due, who does it, how, with what, and what is checked."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.text import slugify
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.core.hazards import Hazard
from fleet.models.machine import WorkingCondition
from fleet.web.forms.fields import choice
from fleet.web.forms.house import Form
from servicing import models
from servicing.measurements import limits
from servicing.models import Task
from servicing.programs.file_format import ProgramFaults
from servicing.programs.file_format.grammar import DraftTask, Interval, bounds
from servicing.web.forms.program_rows import (
    NO_MEANING,
    CautionForm,
    CheckForm,
    Lines,
    Number,
    SupplyForm,
    ToolForm,
)

COUNTED = re.compile(r"(\w+)\[(\d+)\]")  # a row as the program file's faults count it
SPARE = 2


class ReplacedForm(Form):
    """A person's word that no figure of a draft is invented any more."""

    manual = forms.CharField(
        label=_("The maker's manual, its number and edition"),
        max_length=1000,
        error_messages={"required": _("Name the maker's manual, with its number and edition.")},
    )
    sure = forms.BooleanField(
        label=_(
            "I replaced every figure in the draft: hours, limits, torques, quantities, part numbers, pages"
        ),
        error_messages={"required": _("Tick this once every figure is the maker's.")},
    )


class ApplyForm(Form):
    """What is new in this version."""

    note = forms.CharField(
        label=_("What changed, and why"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class TaskForm(Form):
    """All of a task that stands in it once."""

    title = forms.CharField(label=_("Task"), **bounds(DraftTask, "title"))
    manual_page = forms.CharField(
        label=_("Page of the maker's manual"), required=False, **bounds(DraftTask, "manual_page")
    )
    note = forms.CharField(
        label=_("Note"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("The footnote of the maker's table."),
        **bounds(DraftTask, "note"),
    )
    occasion = forms.CharField(
        label=_("Without hours or months: when"),
        required=False,
        help_text=_("Such as: as required, before storage. It is shown and not scheduled."),
        **bounds(DraftTask, "occasion"),
    )
    skill = forms.ChoiceField(label=_("Who may do it"), choices=Task.Skill.choices)
    minutes = forms.IntegerField(label=_("Labour time, minutes"), initial=0, **bounds(DraftTask, "minutes"))
    wait_minutes = forms.IntegerField(
        label=_("Waiting time, minutes"),
        initial=0,
        help_text=_("Draining or cooling, while other work goes on."),
        **bounds(DraftTask, "wait_minutes"),
    )
    waits_after = forms.IntegerField(
        label=_("It waits after step"),
        initial=0,
        help_text=_("Counted from 1; 0 if all steps come before the wait."),
        **bounds(DraftTask, "waits_after"),
    )
    engine = forms.ChoiceField(label=_("Engine at the start"), choices=Task.Engine.choices)
    runs = forms.TypedChoiceField(
        label=_("Does the engine or a drive run in this task?"),
        choices=[("", _("Not known (taken as yes)")), (True, _("Yes")), (False, _("No"))],
        coerce=lambda said: said == "True",
        empty_value=None,
        required=False,
        help_text=_("Such a task is not planned while the oil is out, nor before work on a cold engine."),
    )
    place = forms.ChoiceField(label=_("Where on the machine"), required=False)
    new_place = forms.CharField(
        label=_("Another place"),
        required=False,
        help_text=_("If it is not in the list."),
        **bounds(DraftTask, "place"),
    )
    needs = forms.MultipleChoiceField(
        label=_("Only on machines with"), required=False, widget=forms.CheckboxSelectMultiple
    )
    without = forms.MultipleChoiceField(
        label=_("Not on machines with"), required=False, widget=forms.CheckboxSelectMultiple
    )
    opens = Lines(label=_("Covers that are opened, one a line"), rows=2)
    prepare = Lines(label=_("What to prepare, one a line"), rows=3)
    steps = Lines(label=_("Steps, one a line"), rows=6)
    outside = forms.ChoiceField(
        label=_("When a check is outside its limits"), choices=Task.Outside.choices, required=False
    )
    outside_text = forms.CharField(
        label=_("What to do then"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        **bounds(DraftTask, "outside_text"),
    )

    def __init__(self, *args: Any, task: Task, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        program = task.version.program
        choice(self, "place").choices = [
            ("", gettext("Not entered")),
            *((place, place) for place in program.round),
        ]
        fitments = [(each.code, each.name) for each in program.machine_type.fitments.all()]
        for name in ("needs", "without"):
            choice(self, name).choices = fitments
            if not fitments:
                del self.fields[name]

    def clean_opens(self) -> list[str]:
        """Return the covers as short names."""
        return [name for line in self.cleaned_data["opens"] if (name := slugify(line)[:50])]

    def clean_new_place(self) -> str:
        """Return the place as a short name."""
        return slugify(self.cleaned_data["new_place"])[:50]


class IntervalForm(Form):
    """When it falls due in one working condition; all empty: as in the normal one."""

    first_hours = Number(unit="h", label=_("First after"), max_length=12)
    every_hours = Number(unit="h", label=_("Then every"), max_length=12)
    first_months = forms.IntegerField(
        label=_("First after (months)"), required=False, **bounds(Interval, "first_months")
    )
    every_months = forms.IntegerField(
        label=_("Then every (months)"), required=False, **bounds(Interval, "every_months")
    )
    once = forms.BooleanField(label=_("The first time only"), required=False)
    anchor = forms.ChoiceField(label=_("Runs"), choices=models.Interval.Anchor.choices, required=False)
    early_window_hours = Number(unit="h", label=_("Counts if done early by at most"), max_length=12)
    late_allowance_hours = Number(unit="h", label=_("Still in time if late by at most"), max_length=12)
    to_month_end = forms.BooleanField(label=_("Dates run to the end of the month"), required=False)

    PERIODS = ("first_hours", "every_hours", "first_months", "every_months")

    def __init__(self, *args: Any, condition: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs | {"prefix": f"interval-{condition}"})
        self.condition = condition
        self.name = WorkingCondition(condition).label
        for name in ("first_months", "every_months"):
            self.fields[name].widget.attrs |= {"inputmode": "numeric", "data-unit": gettext("months")}

    def is_filled(self) -> bool:
        """Whether it says anything."""
        return any(self[name].value() for name in self.PERIODS)

    def clean(self) -> dict[str, Any]:
        """Ask for a rule that can be followed."""
        entry = self.cleaned_data
        repeats = entry.get("every_hours") or entry.get("every_months")
        if not any(entry.get(name) for name in self.PERIODS):
            if self.condition == WorkingCondition.NORMAL and not self.errors:
                self.add_error("every_hours", gettext("Enter hours or months."))
        elif entry.get("once") and repeats:
            said = gettext("A task that is due once has no “Then every”: clear that, or untick this.")
            self.add_error("once", said)
        elif not entry.get("once") and not repeats:
            self.add_error("every_hours", gettext("Enter how often, or tick “The first time only”."))
        early, every = entry.get("early_window_hours"), entry.get("every_hours")
        if early and every and early >= every:
            self.add_error("early_window_hours", gettext("This must be shorter than the interval."))
        for name in ("first_hours", "every_hours", "early_window_hours", "late_allowance_hours"):
            if entry.get(name) is not None and entry[name] < 0:
                self.add_error(name, gettext("Enter a number above zero."))
        return entry

    def entry(self) -> dict[str, Any] | None:
        """Return the interval as the program file says it; None where nothing was filled in."""
        if not any(self.cleaned_data.get(name) for name in self.PERIODS):
            return None
        said = {name: value for name, value in self.cleaned_data.items() if value}
        said.setdefault("anchor", models.Interval.Anchor.MARKS.value)
        if said.get("once"):
            del said["anchor"]
        return {"condition": self.condition, **said}


SETS: Mapping[str, tuple[type[forms.Form], str | Promise]] = {
    "cautions": (CautionForm, _("Cautions")),
    "checks": (CheckForm, _("Checks")),
    "tools": (ToolForm, _("Tools")),
    "supplies": (SupplyForm, _("Supplies")),
}


class TaskEditor:
    """All forms of one task together. `row` is the task in the form of the program file."""

    def __init__(self, data: Mapping[str, Any] | None, *, task: Task, row: Mapping[str, Any]) -> None:
        self.task = task
        self.form = TaskForm(data, task=task, initial=row)
        by_condition = {each["condition"]: each for each in row["intervals"]}
        self.intervals = [
            IntervalForm(data, condition=condition, initial=_interval(by_condition.get(condition)))
            for condition in WorkingCondition.values
        ]
        self.sets = {
            name: forms.formset_factory(form, extra=SPARE)(
                data, prefix=name, initial=[_initial(name, each) for each in row[name]]
            )
            for name, (form, _heading) in SETS.items()
        }

    def shown_sets(self) -> list[tuple[str, str | Promise, Any]]:
        """Return name, heading and formset of each list."""
        return [(name, SETS[name][1], formset) for name, formset in self.sets.items()]

    def is_valid(self) -> bool:
        """Whether every form is."""
        found = [self.form.is_valid(), *(form.is_valid() for form in self.intervals)]
        return all([*found, *(formset.is_valid() for formset in self.sets.values())])

    def wrong(self) -> list[tuple[str, str, str]]:
        """Return the id of each field with an error, its label and what to do."""
        forms_here = [self.form, *self.intervals, *(f for formset in self.sets.values() for f in formset)]
        return [
            (form[name].id_for_label or form[name].auto_id, str(form[name].label), str(errors[0]))
            for form in forms_here
            for name, errors in form.errors.items()
            if name in form.fields
        ]

    def entry(self) -> dict[str, Any]:
        """Return the task in the form of the program file, its code aside."""
        said = dict(self.form.cleaned_data)
        said["place"] = said.pop("new_place") or said["place"]
        entry = {name: value for name, value in said.items() if value not in ("", [], None)}
        if not self._filled("checks"):
            entry.pop("outside", None)
            entry.pop("outside_text", None)
        entry["intervals"] = [found for form in self.intervals if (found := form.entry())]
        for name in SETS:
            rows = [form.entry() for form in self._filled(name)]
            if name == "checks":
                rows = list(_with_codes(self._filled(name), rows))
            if rows:
                entry[name] = rows
        return entry

    def show(self, error: ProgramFaults) -> None:
        """Put what the process found above the form."""
        for fault in error.faults:
            self.form.add_error(None, COUNTED.sub(_row, fault))

    def _filled(self, name: str) -> list[Any]:
        return [form for form in self.sets[name] if form.cleaned_data]


def _row(counted: re.Match[str]) -> str:
    return gettext("{list}, row {number}").format(list=counted[1], number=int(counted[2]) + 1)


def _with_codes(filled: Iterable[CheckForm], rows: Iterable[dict[str, Any]]) -> Iterable[dict[str, Any]]:
    """Give every check a code; one that has one keeps it, so that its measured values stay together."""
    filled = list(filled)
    taken = {form.cleaned_data["code"] for form in filled if form.cleaned_data["code"]}
    for form, row in zip(filled, rows, strict=True):
        code = form.cleaned_data["code"]
        if not code:
            wanted = slugify(row["label"])[:46].strip("-") or "check"
            code, number = wanted, 1
            while code in taken:
                number += 1
                code = f"{wanted}-{number}"
            taken.add(code)
        yield {"code": code, **row}


def _interval(row: Mapping[str, Any] | None) -> dict[str, Any]:
    """An interval's values with zeros left out."""
    return {name: value for name, value in (row or {}).items() if value}


def _initial(name: str, row: Mapping[str, Any]) -> dict[str, Any]:
    said = dict(row)
    if name == "cautions":
        said["before_step"] = said["before_step"] or None
        said["hazard"] = "" if said["hazard"] == Hazard.GENERAL else said["hazard"]
    if name == "checks":
        said["unit"] = limits.spelled(said["unit"]) if said["unit"] else ""
        for key, passes in (("passing", True), ("failing", False)):
            said[key] = [
                f"{word['value']}{NO_MEANING} {word['meaning']}" if word.get("meaning") else word["value"]
                for word in said["choices"]
                if word["passes"] == passes
            ]
    return said
