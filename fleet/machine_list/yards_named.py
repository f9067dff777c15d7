"""Which yard each machine of a list is at: one of ours, or one that a person has added."""

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.core.squeezed import squeeze
from fleet.machine_list.answers import ADD, Answers, Questions, YardQuestion, key
from fleet.machine_list.known import Known
from fleet.machine_list.listing import YARD
from fleet.models import Yard

LONGEST = Yard._meta.get_field("name").max_length or 0


@dataclass(frozen=True)
class NewYard:
    """A yard to be added, in the organisation's time zone."""

    name: str


def name_yards(
    rows: list[tuple[int, dict[str, str]]],
    answers: Answers,
    known: Known,
    asked: Questions,
    problem: Callable[[int, str, str], None],
) -> dict[int, Yard | NewYard]:
    """Return the yard of each row for which it is known, and ask about the others."""
    found: dict[int, Yard | NewYard] = {}
    unnamed = _unnamed(answers, known)
    new: dict[str, YardQuestion] = {}
    made: dict[str, NewYard] = {}
    for number, row in rows:
        name = row.get(YARD, "")
        if not name:
            if len(known.yards) != 1:
                asked.unnamed.append(number)
            if unnamed is not None:
                found[number] = _once(unnamed, made)
            continue
        if (ours := known.yard_called(name)) is not None:
            found[number] = ours
            continue
        if len(name) > LONGEST:
            problem(number, YARD, _("Make it shorter: {most} characters at most.").format(most=LONGEST))
            continue
        this = key(name)
        question = new.setdefault(this, YardQuestion(this, name))
        question.rows.append(number)
        said = answers.yards.get(this, "")
        chosen = NewYard(name) if said == ADD else known.yard_numbered(said)
        if isinstance(chosen, NewYard):
            chosen = NewYard(question.name)
        if chosen is not None:
            question.answer = said
            found[number] = _once(chosen, made)
    asked.yards += new.values()
    return found


def _unnamed(answers: Answers, known: Known) -> Yard | NewYard | None:
    """The yard of the rows that name none."""
    if len(known.yards) == 1:
        return known.yards[0]
    if answers.new_yard:
        return known.yard_called(answers.new_yard) or NewYard(answers.new_yard[:LONGEST])
    return known.yard_numbered(answers.unnamed_yard)


def _once(yard: Yard | NewYard, made: dict[str, NewYard]) -> Yard | NewYard:
    """One yard for all that name it, however they write it."""
    return made.setdefault(squeeze(yard.name), yard) if isinstance(yard, NewYard) else yard
