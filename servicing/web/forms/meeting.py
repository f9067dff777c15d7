"""Two people, one order: what was sent beside what is recorded by now, and the question which of them stands.

A page carries what was recorded when it was made. So what a person changed is told from what the page had
only brought along: the latter never takes the place of somebody else's newer entry, the former only when the
person says so.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import FleetError
from fleet.core.number_reader import read_plain
from fleet.core.wording import moment
from fleet.usage import figures
from fleet.usage.figures import marked
from fleet.web.forms.house import Form
from servicing import workorders
from servicing.measurements import limits
from servicing.models import Line, WorkOrder
from servicing.web.forms.former_names import under_new_names
from servicing.workorders import Problem, Recorder

QUESTION = "stands-"
THEIRS, MINE = "theirs", "mine"
CHOOSE = _("Choose which to keep.")
UNTOLD = 0
"""The revision of a page that doesn't say which one it was made from; no order has it."""
NONE = ("",)
"""What an empty field means."""

Values = Mapping[str, str]


@dataclass(frozen=True)
class Meeting:
    """One entry of which the record says something else by now, in words.

    name: of the field it is about. mine: what was sent, theirs: what is recorded, "nothing" for nothing.
    question: the field that asks which stands; None where theirs was taken, because it had not been changed
    here, or where nothing can be sent any more.
    """

    name: str
    label: str
    mine: str
    theirs: str
    recorder: Recorder | None
    taken: bool = False
    question: Any = None

    @property
    def whose(self) -> str:
        """Who recorded theirs and when, as far as that is known."""
        if self.recorder is None:
            return gettext("recorded meanwhile")
        at = moment(self.recorder.at)
        if not self.recorder.by:
            return gettext("recorded, {moment}").format(moment=at)
        return gettext("recorded by {person}, {moment}").format(person=self.recorder.by, moment=at)


class MeetsOthers(Form):
    """A form on an order's record. Its fields are named by the paths of Problem, joined by hyphens."""

    order: WorkOrder
    data: "MultiValueDict[str, Any]"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.is_bound:
            self.data = MultiValueDict(under_new_names(dict(self.data.lists())))
        self.sent = self.data
        self.undecided: list[str] = []
        self.meetings: dict[str, Meeting] = {}

    # ---- what the page carries

    def recorded(self) -> dict[str, str]:
        """What the order's record says, as a browser would send it; what is empty is left out."""
        said: dict[str, str] = {}
        for name in self._names():
            value = self._initial(name)
            if isinstance(value, tuple):
                if value[0]:
                    said[name], said[f"{name}_unit"] = value
            elif value not in (None, ""):
                said[name] = value.isoformat() if isinstance(value, date) else str(value)
        return said

    def shown(self, *beginnings: str) -> str:
        """What is recorded, as the page carries it along: of the fields whose names begin so, or of all."""
        kept = {
            name: value
            for name, value in self.recorded().items()
            if not beginnings or name.startswith(beginnings)
        }
        return json.dumps(kept)

    @property
    def shown_all(self) -> str:
        """What is recorded of everything."""
        return self.shown()

    @property
    def made_from(self) -> int:
        """The revision of the order that the page was made from; UNTOLD where that is lost."""
        return self.cleaned_data.get("revision") or UNTOLD

    # ---- what comes back

    def read(self) -> bool:
        """Read what was sent, each question answered as it was answered; return whether all can be read.

        An answer counts for the record it was given about, and for no later one.
        """
        if self.data.get("revision") == str(self.order.revision):
            self.data = self.data.copy()
            for name in self._asked(self.data):
                answer = self.data.get(f"{QUESTION}{name}")
                if answer == THEIRS:
                    self._put(self.data, name, self.recorded())
                elif answer != MINE:
                    self.undecided.append(name)
        return self.is_valid()

    def unanswered(self) -> list[Problem]:
        """The questions that were asked and not answered, as the process takes them."""
        return [Problem(path_of(name), str(CHOOSE)) for name in self.undecided]

    # ---- what is shown again

    def show_again(self, came: "MeetsOthers", *, known: int, can_send: bool) -> None:
        """Become the form that came, refused, on top of the record this one was built from.

        known: the revision that `came` knows. Where the order has moved on since, what was not changed on the
        page takes what is recorded now; where both changed it, a question is asked.
        """
        moved = self.order.revision != known
        data = (came.sent if moved else came.data).copy()
        answers = {name: data.get(f"{QUESTION}{name}") for name in self._asked(data)}
        for name in [each for each in data if each.startswith(QUESTION)]:
            del data[name]
        data["revision"] = str(self.order.revision)
        taken, asked = self._compare(data, answers) if moved else ({}, dict.fromkeys(came.undecided))
        self._note(data, taken, asked, can_send)
        self.data, self.is_bound, self.sent = data, True, data
        self.full_clean()
        self._take_errors(came)
        if not moved:
            for name in asked:
                self.add_error(f"{QUESTION}{name}", CHOOSE)

    @property
    def questions(self) -> list[Meeting]:
        """What is asked."""
        return [each for each in self.meetings.values() if each.question]

    @property
    def taken(self) -> list[Meeting]:
        """What was taken from the record."""
        return [each for each in self.meetings.values() if each.taken]

    @property
    def too_late(self) -> list[Meeting]:
        """What differs, on an order that takes nothing more."""
        return [each for each in self.meetings.values() if not each.taken and not each.question]

    # ---- comparing

    def _compare(
        self, data: Any, answers: Mapping[str, str | None]
    ) -> tuple[dict[str, str], dict[str, str | None]]:
        """Return what of the data was taken from the record (in words, what it was), and what is to be asked.

        An answer is kept as long as what it was about is recorded still.
        """
        was, theirs = _carried(data), self.recorded()
        taken: dict[str, str] = {}
        asked: dict[str, str | None] = {}
        for name in self._names(parts_of_one=False):
            if not self._came(name, data):
                continue
            before, mine, now = (self._meaning(name, each) for each in (was, data, theirs))
            if mine == now:
                continue
            if name in answers:
                asked[name] = answers[name] if before == now else None
            elif before == now:
                continue
            elif mine in (before, before == NONE and self._proposed(name)):
                taken[name] = self._words(name, data)
                self._put(data, name, theirs)
            else:
                asked[name] = None
        return taken, asked

    def _note(
        self, data: Any, taken: Mapping[str, str], asked: Mapping[str, str | None], can_send: bool
    ) -> None:
        """Put the questions into the form, and what was taken beside it."""
        if not taken and not asked:
            return
        known, theirs = workorders.recorders(self.order), self.recorded()

        def meeting(name: str, mine: str) -> Meeting:
            told = self._words(name, theirs)
            whose = workorders.recorder_of(path_of(name), known)
            return Meeting(name, str(self.fields[name].label), mine, told, whose, name in taken)

        for name, mine in taken.items():
            self.meetings[name] = meeting(name, mine)
        for name, answer in asked.items():
            each = meeting(name, self._words(name, data))
            if can_send:
                self.fields[f"{QUESTION}{name}"] = _question(each)
                if answer:
                    data[f"{QUESTION}{name}"] = answer
                each = replace(each, question=self[f"{QUESTION}{name}"])
            self.meetings[name] = each

    def _take_errors(self, came: "MeetsOthers") -> None:
        """Take over what was found wrong with the form that came, but for what says something else now."""
        for name, errors in came.errors.items():
            if name == NON_FIELD_ERRORS:
                self.add_error(None, errors)
            elif name in set(self.fields) - set(self.errors) and came.data.get(name) == self.data.get(name):
                self.add_error(name, errors)

    # ---- fields

    def _names(self, *, parts_of_one: bool = True) -> Iterator[str]:
        """The fields that are kept on the record, in the page's order.

        What came of a line, why and until when are one answer, asked for under the name of the outcome; with
        `parts_of_one` each is named.
        """
        for name in self.fields:
            kept = name.startswith(("lines-", "parts-", "labour-")) or name == "hours"
            if kept and (parts_of_one or not name.endswith(("-reason", "-deferred_until"))):
                yield name

    def _together(self, name: str) -> Iterable[str]:
        if not name.endswith("-outcome"):
            return (name,)
        line = name.removesuffix("outcome")
        return (name, f"{line}reason", f"{line}deferred_until")

    def _came(self, name: str, data: Any) -> bool:
        """Whether an entry was on the page that came. A browser sends nothing for radio buttons left alone.

        A part or a person that somebody added since is met on the page that asks for parts and people.
        """
        return any(each in data for each in self._together(name)) or (
            name.startswith(("parts-", "labour-")) and "hours" in data
        )

    def _asked(self, data: Any) -> list[str]:
        names = set(self._names(parts_of_one=False))
        return [name for name in dict.fromkeys(data.getlist("asked")) if name in names]

    def _put(self, data: Any, name: str, values: Values) -> None:
        for each in self._together(name):
            data[each] = values.get(each, "")
            if isinstance(self.fields[each], forms.MultiValueField) and data[each]:
                data[f"{each}_unit"] = values.get(f"{each}_unit", "")

    def _initial(self, name: str) -> Any:
        """What is recorded at a field."""
        return self.fields[name].initial

    def _proposed(self, name: str) -> tuple[Any, ...]:
        """What the page proposes where nothing is recorded, in the shape of `_meaning`; () for nothing."""
        return ()

    def _meaning(self, name: str, data: Any) -> tuple[Any, ...]:
        """What values say, to be compared: 7,50 and 7.5 say the same, as do both ways to end a line."""
        return tuple(self._one(each, data) for each in self._together(name))

    def _one(self, name: str, data: Any) -> Any:
        typed = str(data.get(name) or "").replace("\r\n", "\n").strip()
        field = self.fields[name]
        if not typed:
            return ""
        if isinstance(field, forms.MultiValueField):
            unit = data.get(f"{name}_unit") or field.initial[1]
            try:
                return limits.number(typed), unit
            except FleetError:
                return typed, unit
        try:
            return field.clean(typed)
        except ValidationError:
            return typed

    def _words(self, name: str, data: Any) -> str:
        """A value as a person reads it."""
        typed = str(data.get(name) or "").strip()
        if name.endswith("-outcome"):
            return self._words_of_outcome(name, typed, data)
        unit = data.get(f"{name}_unit") or self.fields[name].widget.attrs.get("data-unit") or ""
        if not typed:
            return gettext("nothing")
        return (
            f"{marked(typed)} {unit}" if unit and read_plain(typed) is not None else f"{typed} {unit}".strip()
        )

    def _words_of_outcome(self, name: str, typed: str, data: Any) -> str:
        _outcome, reason, until = self._together(name)
        known = typed in Line.Outcome.values
        said = str(Line.Outcome(typed).label) if known else typed or gettext("nothing chosen")
        if typed == Line.Outcome.DEFERRED and (day := self._one(until, data)):
            written = figures.long_day(day) if isinstance(day, date) else day
            said = gettext("{outcome} until {day}").format(outcome=said, day=written)
        why = str(data.get(reason) or "").strip()
        return f"{said}: {why}" if why else said


def path_of(name: str) -> tuple[str | int, ...]:
    """The path of a problem at a field, as the names of fields join it."""
    return tuple(int(step) if step.isdecimal() else step for step in name.split("-"))


def _question(each: Meeting) -> forms.Field:
    return forms.ChoiceField(
        label=gettext("{field}: which is right?").format(field=each.label),
        required=False,
        widget=forms.RadioSelect,
        choices=[
            (THEIRS, f"{_begun(each.theirs)} ({each.whose})"),
            (MINE, gettext("{value} (yours, as above)").format(value=_begun(each.mine))),
        ],
    )


def _begun(words: str) -> str:
    """Values as they are, words of our own with a capital."""
    own = words.startswith((gettext("nothing"), gettext("nothing chosen")))
    return words[0].upper() + words[1:] if own else words


def _carried(data: Any) -> dict[str, str]:
    """What the page says was recorded when it was made; nothing where that is lost or can't be read."""
    try:
        said = json.loads(data.get("shown") or "{}")
    except ValueError:
        return {}
    if not isinstance(said, dict):
        return {}
    return under_new_names({name: value for name, value in said.items() if isinstance(value, str)})
