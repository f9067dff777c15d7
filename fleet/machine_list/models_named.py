"""Which model each machine of a list is: one of ours, or a new one whose category a person chooses."""

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.machine_list.answers import Answers, ModelAnswer, ModelQuestion, Questions, key
from fleet.machine_list.category_words import category_of, without_category
from fleet.machine_list.known import Known, type_key
from fleet.machine_list.listing import CATEGORY, MAKER, MODEL, TYPE
from fleet.models import MachineType
from fleet.models.machine import Category

LONGEST = MachineType._meta.get_field("model").max_length or 0


@dataclass(frozen=True)
class NewModel:
    """A make and model to be added."""

    maker: str
    model: str
    category: str


Problem = Callable[[int, str, str], None]


def name_models(
    rows: list[tuple[int, dict[str, str]]],
    answers: Answers,
    known: Known,
    asked: Questions,
    problem: Problem,
) -> dict[int, MachineType | NewModel]:
    """Return the model of each row for which it is known, and ask about the others."""
    found: dict[int, MachineType | NewModel] = {}
    new: dict[str, ModelQuestion] = {}
    heard: dict[str, set[str]] = {}
    for number, row in rows:
        in_one = TYPE in row
        maker, model = row.get(MAKER, ""), row.get(MODEL, "")
        name = row.get(TYPE, "") if in_one else " ".join(f"{maker} {model}".split())
        if not _is_whole(number, row, in_one, problem):
            continue
        ours = known.types_called(name)
        if len(ours) > 1:
            problem(number, TYPE if in_one else MODEL, _several(ours))
            continue
        if ours:
            found[number] = ours[0]
            continue
        this = key(name)
        if this not in new:
            new[this] = _question(this, name, maker, model, in_one, known)
        new[this].rows.append(number)
        if said := row.get(CATEGORY, ""):
            heard.setdefault(this, set()).add(category_of(said))
            new[this].said = new[this].said or said
    for this, question in new.items():
        _offer(question, heard.get(this, set()))
        made = _answered(question, answers.models.get(this), known)
        if made is not None:
            found |= dict.fromkeys(question.rows, made)
    _agree(new, found)
    asked.models += new.values()
    return found


def _is_whole(number: int, row: dict[str, str], in_one: bool, problem: Problem) -> bool:
    """Whether a row names maker and model, each short enough; what is wrong is noted."""
    needed = (TYPE,) if in_one else (MAKER, MODEL)
    for column in needed:
        if not row.get(column, ""):
            said = _("Give the maker's name.") if column == MAKER else _("Give the model.")
            problem(number, column, _("Give maker and model.") if in_one else said)
        elif len(row[column]) > LONGEST:
            problem(number, column, _("Make it shorter: {most} characters at most.").format(most=LONGEST))
    return all(0 < len(row.get(column, "")) <= LONGEST for column in needed)


def _question(this: str, name: str, maker: str, model: str, in_one: bool, known: Known) -> ModelQuestion:
    """The question about a model, with what its maker may be."""
    if not in_one:
        return ModelQuestion(this, name, False, maker, model)
    bare = without_category(name)
    maker = known.maker_in(bare) or (bare.split()[0] if len(bare.split()) > 1 else "")
    return ModelQuestion(this, name, True, maker, bare[len(maker) :].strip())


def _offer(question: ModelQuestion, heard: set[str]) -> None:
    """Offer the category that the list names, or that stands in the model's own name."""
    if heard:
        question.category = next(iter(heard)) if len(heard) == 1 else ""
    else:
        question.category = category_of(question.name)
        question.said = question.name if question.category else ""


def _answered(
    question: ModelQuestion, answer: ModelAnswer | None, known: Known
) -> MachineType | NewModel | None:
    """Take the answer over into the question; return the model that it means, None while that is open."""
    if answer is not None:
        question.category = answer.category
        if question.in_one:
            question.maker, question.model = answer.maker.strip(), answer.model.strip()
    if not question.maker:
        question.problem = _("Say which part is the maker.")
    elif not question.model:
        question.problem = _("Give the model.")
    elif max(len(question.maker), len(question.model)) > LONGEST:
        question.problem = _("Make it shorter: {most} characters at most.").format(most=LONGEST)
    if question.problem:
        return None
    ours = known.types_called(f"{question.maker} {question.model}")
    if len(ours) > 1:
        question.problem = _several(ours)
        return None
    if ours:
        question.category, question.settled = ours[0].category, True
        return ours[0]
    if answer is None or question.category not in Category.values:
        question.category = question.category if question.category in Category.values else ""
        return None
    question.settled = True
    return NewModel(question.maker, question.model, question.category)


def _agree(new: dict[str, ModelQuestion], found: dict[int, MachineType | NewModel]) -> None:
    """Two that were answered to be one model must be of one category, and are written one way."""
    made: dict[str, NewModel] = {}
    for question in new.values():
        model = found.get(question.rows[0])
        if not isinstance(model, NewModel):
            continue
        first = made.setdefault(type_key(f"{model.maker} {model.model}"), model)
        if first.category != model.category:
            question.settled = False
            question.problem = _("This model is above with another category. Choose one.")
        found |= dict.fromkeys(question.rows, first)


def _several(kinds: list[MachineType]) -> str:
    said = _("Several of our models are written like this: {models}. Write it like one of them.")
    return said.format(models=", ".join(map(str, kinds)))
